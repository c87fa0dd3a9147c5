"""The sentences of the stages as patterns, to be said again in another language (`restating`).

The stages write them, in English, into their files and errors; in a pattern `{name}` stands for what changes. One
module for each kind of document. Whoever words a new sentence in a stage adds its pattern here.

The first that fits is taken: what has an end of its own comes before what would swallow it.
"""

from analyzer.patterns import changes, errors, plan, reply, survey

PATTERNS = (*survey.PATTERNS, *plan.PATTERNS, *changes.PATTERNS, *reply.PATTERNS, *errors.PATTERNS)
