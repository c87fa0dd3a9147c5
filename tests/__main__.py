"""`python -m tests`: everything that must pass before a change goes in. Stops at the first thing that does not."""

import subprocess
import sys

STEPS = (
    ("ruff", "check", "."),
    ("ruff", "format", "--check", "."),
    ("mypy",),
    ("pytest", "-n", "2", "--cov", "--cov-report=term:skip-covered"),
)


def main() -> int:
    for step in STEPS:
        sys.stdout.write(f"== {' '.join(step)}\n")
        sys.stdout.flush()
        code = subprocess.run([sys.executable, "-m", *step], check=False).returncode
        if code:
            return code
    return 0


if __name__ == "__main__":
    sys.exit(main())
