"""Surveys a harp from a recording of its strings plucked in order. Data goes one way:

    recording    file -> samples at one rate, check-up of the recording
    plucks       samples -> where something begins to sound
    evidence     each event -> how well every pitch explains it, and how likely it is no string
    matching     all evidence + layout + tuning -> which event is which string, with probabilities
    levelling    samples + plucks -> the sound without the recorder's gate and automatic gain
    pitch        each matched pluck -> its pitch with an interval        (both on narrow `bands`)
    decay        each matched pluck -> how it dies away, partial by partial
    hearing      the above for one recording
    condition    all strings together -> dull, false;  doubts: another key, levers, a semitone
    pipeline     recordings + what the person said -> one `survey.Survey`
    load, plan, changes, settling   survey(s) -> tensions, passes and purchases, before and after
    tables, figures, report         survey -> CSV, SVG and PNG, HTML: rendering only
    cli          words -> the above, files, exit codes

Every threshold is in `settings`; every error meant for a person in `errors`.
"""
