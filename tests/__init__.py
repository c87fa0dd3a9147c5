"""Tests of the package, by module; `synth` makes the known truths."""
