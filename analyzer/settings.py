"""Every threshold of the program in one place: its value, its unit, and why it is that.

`Settings` is made of one frozen section a stage. A stage receives its section and has no bare numbers of its own
but mathematical ones. Where a reason reads "measured", `tests/bench/` holds the command that measures it again.
"""

from dataclasses import dataclass, field

_MOST_RELATIVE = 2.0
"""Widest interval of a decay, over the decay: of a concert harp's notes cut after 5 dB one in ten rings three times as
long as was read."""

_OVERLOADED_CENTS = 100.0
"""A string this sharp is overloaded by an eighth (2^(100/600))."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingSettings:
    """Decoding and the check-up of the recording (`recording`)."""

    rate_hz: int = 22050
    """Sampling rate of the analysis. The highest harp string is G7 = 3136 Hz; its third partial still fits
    below the 11 kHz that this rate carries, and a third of the usual 44.1 kHz work is saved."""
    block_s: float = 1.5
    """Sound decoded at once: half a megabyte in stereo at 44.1 kHz."""
    in_memory_s: float = 1200.0
    """Longer recordings are kept in a temporary file: 20 minutes are 106 MB, four times a usual survey."""
    lowest_rate_hz: int = 8000
    highest_rate_hz: int = 192000
    """Rates outside are headers that lie, or telephony too poor to measure; 192 kHz is the most that
    recorders offer."""
    most_channels: int = 8
    """7.1 surround is the most that a phone or a field recorder makes."""
    longest_s: float = 4 * 3600.0
    """Bound on what one file may unpack to: no harp takes four hours."""
    hole_s: float = 0.03
    """Frames that come this much later than they should follow lost packets; webm's clock ticks in ms, and
    one packet of most codecs is 20 ms or more."""
    longest_hole_s: float = 10.0
    """A jump beyond this is a pause of the recorder, or a lie, and is not filled."""
    cut_short_s: float = 0.5
    """A stream this much shorter than its header says was cut off; rounding and priming stay under 0.1 s."""
    silent_db: float = -80.0
    """A recording whose highest sample is below this holds no harp: 16-bit dither peaks at about -85 dB."""

    glimpse_s: float = 0.25
    glimpse_step_s: float = 0.73
    """Channels are compared on a third of the recording, more than one glimpse a string, in a step that
    even plucking does not fall in with."""
    loud_percentile: float = 95.0
    """A channel's sound: the level that 1 glimpse in 20 exceeds."""
    quiet_percentile: float = 10.0
    """A channel's noise: the level that 9 glimpses in 10 exceed."""
    dead_channel_db: float = -30.0
    """A channel this far under the loudest one is dead (crosstalk and hiss); a stereo pair differs by 10 dB
    at most."""
    least_channel_noise_db: float = -90.0
    """Noise below 16-bit dither is not told apart, so that digital silence does not outweigh everything."""
    sounding_db: float = 6.0
    """A glimpse this far above the quiet ones has a string in it."""
    cancel_db: float = -3.0
    """A glimpse whose sum falls this far below what unrelated channels would give is partly cancelled."""
    most_cancelled: float = 0.05
    """Share of sounding glimpses that may be so before one channel is used alone: one string in twenty."""

    absurd_sample: float = 1000.0
    """A sample beyond this (60 dB over full scale) is no sound; 32-bit float recorders go 20 dB or so
    over."""
    clip_level: float = 0.999
    clip_run_n: int = 3
    """Three samples in a row this near full scale are clipped: an unclipped peak there is one or two
    samples wide."""
    flat_step: float = 5e-5
    """… or so many at one level that nothing exceeds, give or take a step and a half of 16 bits …"""
    flat_run_n: int = 4
    flat_places: int = 4
    """… in as many places, of a signal that was clipped and then turned down: unclipped plucks are not alike to a step
    of 16 bits."""
    flat_least: float = 0.05
    """Below this level (-26 dB) nobody turns a clipped signal down; steps of 16 bits would make tops flat."""
    clip_place_s: float = 0.2
    """Clipped runs closer than this are one place: one attack."""
    clip_warning_places: int = 4
    """Fewer clipped attacks than this are noted, more are a warning."""
    places_shown: int = 5
    """Places that a finding lists."""
    level_step_s: float = 0.005
    """Frame of the level over time."""
    noise_frame_s: float = 0.05
    noise_percentile: float = 5.0
    """Noise floor: RMS of 50 ms frames that only 1 in 20 falls below; for steady noise it reads 0.3 dB
    low."""
    quiet_peak_db: float = -30.0
    """A recording that never exceeds this has its plucks' decay in the last bits of a 16-bit file."""
    least_range_db: float = 25.0
    """T20 is read down to -25 dB: less room than that between plucks and noise and no decay can be
    measured."""

    gap_s: float = 0.01
    gap_silence_db: float = -100.0
    """Dead silence: below the last bit of 16; microphones are never so quiet."""
    gap_sound_db: float = -50.0
    """Silence is a gap where the sound just before it was above this; a gate or a fade has sunk lower."""

    band_resolution_hz: float = 20.0
    band_hz: float = 86.0
    band_percentile: float = 95.0
    """The spectrum's edge is sought where 1 block in 20 (the brightest attacks, but not a single click)
    reaches."""
    band_floor_db: float = -140.0
    """dB per Hz, the density of 16-bit dither (-98 dB over 22 kHz): below it a band carries nothing."""
    cliff_span_hz: float = 500.0
    cliff_db: float = 20.0
    """A fall by this over half a kHz and never up again is a codec's or a converter's doing: strings fall
    by 5 or so."""
    cliff_noise_db: float = 10.0
    band_empty_db: float = -130.0
    """A cut takes the noise between plucks down by 10 dB too, or leaves less than the last bit of 16 (10 dB of
    room over its dither)."""
    wanted_bandwidth_hz: float = 6500.0
    """Second partial of G7 (3136 Hz): what is needed to compare the top strings' brightness."""

    hum_resolution_hz: float = 1.35
    hum_harmonics: int = 6
    """Up to 300 or 360 Hz, where 50 and 60 Hz meet."""
    hum_percentile: float = 20.0
    """A tone that is there four fifths of the time: strings are not."""
    hum_around_hz: float = 20.0
    hum_peak_bins: int = 3
    """Half-width of a tone's peak under the Hann window, with one bin to spare."""
    hum_rise_db: float = 10.0
    """Noise alone, taken at a percentile over a hundred frames, scatters by 1 to 2 dB."""
    hum_alone_db: float = 20.0
    hum_least_harmonics: int = 2
    """Two multiples that stand out, or one that does so twice as clearly."""
    hum_off_hz: float = 0.5
    """The mains are kept within 0.2 Hz in normal operation (European grids); the rest is reading error."""
    hum_steady_db: float = 6.0
    """Hum's median is this near its low percentile; a ringing string loses more in half a pause."""
    hum_least_frames: int = 6
    """4.5 s: less and strings cannot be told from hum."""
    hum_below_noise_db: float = 10.0
    """Hum this far under the noise floor is not worth a finding."""

    hiss_frame_n: int = 1024
    """46 ms at the analysis rate."""
    hiss_highest_hz: float = 10000.0
    """Top of the hiss band, below where the resampler (and most codecs) begin to fall."""
    hiss_share: float = 0.7
    """Bottom of the hiss band as a share of its top: 7 kHz, where string sound is gone in 0.2 s."""
    usable_nyquist: float = 0.9
    """Share of a file's own band that its converter leaves flat."""
    hiss_least_db: float = -130.0
    """dB per Hz: less hiss than this is dither or a codec's nothing, and says nothing about gain."""
    gain_after_s: float = 0.3
    """The attack's own treble is gone by then."""
    gain_span_s: float = 0.3
    gain_guard_s: float = 0.05
    """The end of a pluck is compared over 0.3 s, but for the last 50 ms, where the next attack may begin."""
    gain_least_s: float = 1.2
    """Shorter plucks leave the gain no time to rise."""
    gain_least_plucks: int = 6
    gain_lift_db: float = 2.0
    """Recordings known to have a fixed gain show 0.5 dB at most, a simulated phone 4 to 8."""
    close_s: float = 0.8
    """Half of the pitch window (0.15 to 1.35 s after the onset) is gone when the next pluck comes earlier."""
    most_close: float = 0.15
    """Share of plucks that may be so: repeats, slips and knocks are in every recording."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PluckSettings:
    """Finding where strings begin to sound (`plucks`)."""

    window: int = 1024
    """Samples a spectrum spans: 46 ms, about the length of an attack, still two bands to a bass partial's spacing."""
    hop: int = 256
    """Samples between spectra: 12 ms."""
    block_frames: int = 256
    """Spectra held at once: 3 s, half a megabyte a table, which stays in a processor's own memory."""
    floor_percentile: float = 15.0
    """A band is below this level in the quietest 15 % of the frames: noise, even where plucks follow closely."""
    floor_margin_db: float = 17.0
    """From that percentile of noise power (exponentially distributed: 8 dB under its mean) to what 1 frame in 3,000
    exceeds (9 dB over it)."""
    floor_frames: int = 2400
    """Frames that the noise is estimated from, in runs spread over the recording."""
    floor_run: int = 200
    """Frames in such a run: 2.3 s, so that a run holds a pause."""
    range_db: float = 40.0
    """How far above the noise a band counts: beyond it louder is not newer."""
    lag_first: int = 3
    lag_last: int = 6
    """The rise is taken against 3 to 6 frames before (35 to 70 ms): longer than a beat's dip in one frame, shorter than
    the fastest plucking."""
    least_rise_db: float = 0.4
    """Least mean rise over all bands. Noise alone stays below 0.1; the softest plucks of the recordings at hand reach
    1.7, a synthetic one 24 dB softer than a ringing bass wire 0.41. What passes wrongly is refused later as no string,
    what is refused here is lost: hence low."""
    quiet_rise_db: float = 0.25
    noise_percentile: float = 75.0
    noise_rises: float = 2.5
    """Where the noise is steady a lower rise is enough, down to this, as long as it is 2.5 times what three frames in
    four stay below: 0.00 in plain noise, 0.16 once a phone's level control and codec have been at it (measured)."""
    bass_below_hz: float = 1500.0
    bass_rise_db: float = 1.0
    """A bass wire in noise, or on a phone that has taken its lowest partials, raises some bands below 1500 Hz and none
    above. Of 3,866 plucks (real notes, 95 recordings) the rise of all bands missed 13, of which 12 raise the low ones
    by 1 dB; so does nothing else in four recordings of five, at most four other moments in the rest."""
    apart_s: float = 0.16
    """Events closer than this are one: the touch of the finger and the release lie 20 to 150 ms apart; the fastest
    plucking that is still one string after another is some 0.25 s."""
    faint_least_db: float = 0.015
    faint_rises: float = 3.0
    faint_percentile: float = 99.0
    faint_around_s: float = 2.0
    """A faint rise is told of where it is at least this, and 3 times what 99 frames in 100 stay below within 2 s on
    either side: in six of seven recordings of whole harps, of real notes, nothing else lay so half-way between two
    plucks, in the seventh two syllables did."""
    settle_s: float = 0.06
    """How far the exact onset may lie from the frame's centre."""
    disturbing_db: float = 12.0
    enough_s: float = 0.8
    """A knock or a voice less than 12 dB softer than the string ends what is measured, once 0.8 s were heard."""
    step: int = 64
    """Samples to a step of the fine search: 3 ms."""
    step_past: int = 4
    """Steps whose mean is "before" in the fine search: 12 ms."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaintSettings:
    """Where a string that was not heard may have been plucked too softly (`faint`)."""

    near_share: float = 0.5
    """How far from its place a faint rise may lie, share of the time from place to place: half-way to the next."""
    least_step_share: float = 0.75
    """With less of the usual time from pluck to pluck for each string, the gap holds no place for one that was passed
    over; people's own gaps vary by about a quarter (synthetic habits, no source)."""
    steps_n: int = 8
    """Nearest gaps that the usual one is taken from: bass strings get three times the time of the top ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutSettings:
    """What a layout file and a tuning may say (`layout`, `tuning`)."""

    file_limit_bytes: int = 200_000
    """Largest layout file read; a 47-string one has 5 kB, so a larger file is something else."""
    dots_n: int = 1000
    """Most dots in a line of it: the strings of the largest harp on one line have some hundred decimals. Keys of many
    parts take the parser a time that grows with their square, 1 s for 10,000."""
    strings_limit_n: int = 100
    """Most strings in one row; the largest pedal harp has 47, and an owner's own instrument may have more."""
    length_limit_mm: float = 3000.0
    """Longest vibrating length believed; a concert harp's longest is near 1.5 m (from memory)."""
    diameter_limit_mm: float = 10.0
    """Thickest string believed; gut at the bottom is near 3 mm (from memory)."""
    mass_limit_g_per_m: float = 500.0
    """Heaviest string believed; ten times the bass wires of a concert harp (generic estimate)."""
    a4_lowest_hz: float = 380.0
    """Lowest reference: below A = 392 Hz, the lowest one in use for old music (from memory)."""
    a4_highest_hz: float = 480.0
    """Highest reference: above A = 466 Hz, the highest one in use for old music (from memory)."""
    own_target_limit_cents: float = 1200.0
    """Furthest a string's own target may be from the key's note: beyond an octave it is a slip of the pen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceSettings:
    """Weighing every pitch for one pluck (`evidence`)."""

    span_s: float = 0.74
    """Longest stretch looked at: resolves the 33 Hz between the partials of C1 with a Hann window many times over."""
    least_span_s: float = 0.12
    """Shortest stretch that still separates the partials of a middle string."""
    skip_s: float = 0.03
    """Left out after the onset: the attack's noise."""
    before_gap_s: float = 0.02
    """Left out before the onset: the touch of the finger."""
    floor_width_hz: float = 40.0
    """Width over which the local noise is the median of the spectrum."""
    ringing_share: float = 0.8
    """A peak must stand out of this share of what its band held before the onset; strings ringing on only fall."""
    unclear_score: float = 1.0
    """Where what is new is explained less well than this, the whole sound is looked at too: so it was at 272 of
    3,652 plucks (concert harps' notes), 113 of them of a string that had been plucked before."""
    grown_span_s: float = 0.5
    """Over less, what rings on falls too little to be told from what has grown."""
    grown_limits_db: tuple[float, float] = (-6.0, 12.0)
    """A single partial's growth counts no further: beats and noise move single ones."""
    fallen_worth: float = 1.0
    """Score taken off per dB that a string's partials have fallen by in the mean. Of 111 strings plucked again while
    they rang (concert harps' notes, rooms, phones) 104 had grown; under 91 other sounds, mostly knocks, what rang had
    fallen, by 1 dB and more, but for four."""
    least_above_db: float = 8.0
    """A noise peak stands 8 dB above its own median in about 1 of 100 bins."""
    sure_db: float = 10.0
    sure_scale_db: float = 1.0
    """A peak weighs half at 10 dB: some 6 of the noise's 6,600 bins reach that (Rayleigh distributed), 80 reach 8 dB,
    where their number would swamp the few peaks of a faint high string. Scale: our judgement."""
    most_above_db: float = 40.0
    """Standing out further than this is no further evidence."""
    below_strongest_db: float = 50.0
    """Peaks further below the strongest than this are side lobes, room and sympathetic strings."""
    peaks: int = 40
    """Number of peaks looked at: a bass wire shows some 30 partials."""
    roots: int = 10
    """Strongest and most prominent peaks from which candidates are formed."""
    root_divisors: int = 16
    """A root may be up to this partial of its string: a phone hides the first partials of a bass wire."""
    partials: int = 24
    """Highest partial number that explains a peak."""
    lowest_hz: float = 20.0
    """Below C1 an octave and more of slack is 16 Hz, but nothing a microphone hears."""
    highest_hz: float = 9000.0
    """Above it phones and codecs record little."""
    highest_pitch_hz: float = 3700.0
    """G7 = 3136 Hz and almost three semitones sharp."""
    candidate_apart_cents: float = 6.0
    """Candidates nearer than this are one, to be refined."""
    stiffnesses: tuple[float, ...] = (0.0, 1e-4, 4e-4, 1.5e-3)
    """Inharmonicity B tried: gut and nylon in the middle lie near 2e-4 (computed, see `load`), short trebles and wires
    higher."""
    tolerance_bins: float = 1.0
    """A peak fits a partial within the resolution of the span, or within `tolerance_share` of its frequency."""
    tolerance_share: float = 0.011
    """19 cents: partials of real strings scatter by several cents about the stiff-string law, and the soundboard pulls
    single first partials by up to 30 (measured on two harps)."""
    expected_partials: int = 8
    """Partials whose absence counts against a candidate."""
    present_db: float = 12.0
    """Prominence from which a partial counts as wholly there; the noise's peaks rarely reach it."""
    present_worth: float = 0.7
    """Worth of all expected partials against explaining every peak; equal scores for an octave too low and too high
    when half is missing and half unexplained."""
    weak_below_hz: float = 200.0
    weak_worth: float = 0.35
    """Partials below 200 Hz count less when absent: phones remove them."""
    keep: int = 10
    """Candidates passed on."""
    score_to_log: float = 14.0
    """Score difference to natural log-likelihood; an octave error usually lies 0.3 below: one in 70. Calibrated on
    synthetic harps (`tests/bench`)."""
    octave_lead: float = 1.0
    octave_worth: float = 4.0
    octave_most: float = 8.0
    octave_within_cents: float = 45.0
    """Where the lower of two candidates an octave apart leads by more than 1, each further 1 counts for 5 (natural
    log): of 2,154 plucks one had the octave below its string so far ahead, of 27 strings that were an octave low 26
    (their leads 2.6 to 12)."""
    octave_odd_db: float = 18.0
    """… but only where its loudest odd partial is no further below its loudest even one: wherever a string is plucked,
    not all odd partials are weak (their amplitudes go as sin(n·pi·p)/n²: Fletcher & Rossing, The Physics of Musical
    Instruments, 2.7, from memory). Of six plucks for which the octave below was likelier (four of one note) they were
    22 to 32 dB below; of four strings an octave low none was below at all."""
    octave_faint_db: float = 12.0
    octave_faint_worth: float = 0.25
    """Natural log for each dB further below, up to so many: the octave below is then hardly what sounds."""
    refine_fit: float = 0.3
    """Peaks that fit less well than this take no part in the refinement."""
    refine_partials: float = 6.0
    """Partials above this weigh less: their law is less sure."""
    unrefined_cents: float = 20.0
    resolution_bins: float = 0.1
    """A clean peak is placed within a tenth of the resolution."""
    least_spread_cents: float = 2.0
    """Two takes of a real string differ by up to 1.5 cents in the median, bass worst (measured)."""
    no_tone_log_odds: float = -8.0
    """A sound without any peak is no string."""
    sudden_db: float = 5.5
    sudden_scale_db: float = 0.8
    sudden_limits: tuple[float, float] = (-5.0, 1.0)
    """Log-odds from three measures, each by how often plucks and other sounds have it (2,181 plucks, 1,118 others: 59
    recordings of synthetic strings, of two concert harps' notes and of real strings, with speech, song, knocks). A
    bass string that is plucked again while it rings, or on a phone, rises by 4 to 10 dB within 20 ms; so do knocks.
    Hardly any pluck rises by less than 2 dB, as most syllables do."""
    harmonic_score: float = 0.82
    harmonic_scale: float = 0.1
    harmonic_limits: tuple[float, float] = (-5.0, 3.0)
    """Set where 99 strings of 100 scored above 0.75, seven other sounds of ten below 0.7, most of the rest voices; as
    the noise's peaks weigh little, 98 of 100 are above 0.85, half of the others below 0.75 (60 synthetic ones)."""
    drift_peaks: int = 6
    drift_reach_bins: float = 1.5
    drift_bins: float = 0.1
    drift_cents: float = 8.0
    """A steady tone's peak is placed within a tenth of a resolution width, and a string glides by a few cents."""
    steady_drift: float = 0.4
    steady_scale: float = 0.15
    steady_limits: tuple[float, float] = (-4.0, 0.5)
    """98 of 100 plucks move less than 0.6 times what is allowed, more than half of the other sounds more."""
    clear_log_odds: float = 2.0
    clear_events: int = 5
    """With fewer clear plucks than this there is nothing to compare with."""
    crowd_share: float = 0.4
    crowd_scale: float = 0.3
    crowd_limit: float = 4.5
    """Events closer than 0.4 of the usual distance between plucks are more likely syllables or knocks; the limit is
    what a clear pluck has in its favour, so that one beside a knock stays."""
    weak_share: float = 0.25
    weak_scale: float = 0.4
    weak_limit: float = 3.0
    """So are events that raise less than a quarter of the bands' usual rise; soft plucks do too, hence the limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportSettings:
    """What the sentences, tables and charts call near, far and off the scale (`digest`, `words`, `figures`)."""

    in_tune_cents: float = 5.0
    """A string nearer than this to its note is counted as in tune; our judgement: about half of the 10 cents at
    which most amateurs notice an interval (Hill & Summers, JASA 121 (2007) 2376)."""

    octave_window_cents: float = 150.0
    """A string this near to −1200 cents is spoken of as an octave low; our judgement: wider than the slackness
    that a string of another octave would share with its neighbours, narrower than two semitones."""

    octave_neighbours_n: int = 4
    """Measured strings to either side that say where a slack string's octave lies; about an octave in all."""

    region_margin: float = 1.25
    """A third of the harp is called the worst when its median is this many times the next one's; our judgement."""

    slack_cents: float = 100.0
    """A harp whose median is this flat is advised to be seen by a technician and raised in passes, and a string
    this sharp to be let down first: a semitone is about an eighth of a string's tension (2^(100/600) = 1.122)."""

    scale_cents: float = 650.0
    """Strings further off than this are drawn in a lane of their own, so that the others stay readable, unless
    `scale_share` of the harp is as far off; our judgement: past half an octave, the amount matters little."""

    scale_share: float = 0.8
    """Share of the strings that is always drawn to scale; our judgement."""

    least_span_cents: float = 60.0
    """The deviation chart reaches at least this far to either side, so that a harp in tune looks it."""

    even_cents: float = 10.0
    """A harp half of whose strings lie within this of their common deviation is in tune with itself, and the A4 that
    it would fit is worth a sentence; our judgement: twice `in_tune_cents`."""

    narrow_strings_n: int = 12
    """On a narrow page so many strings at most stand side by side in a chart: 360 px give each about 25."""

    names_n: int = 6
    """The summary names up to this many strings, and counts them beyond; our judgement."""

    title_n: int = 90
    """Longest title shown as a heading, characters; what is longer is cut there and shown whole under method."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipSettings:
    """The short recordings to listen to (`clips`)."""

    length_s: float = 2.6
    """Longest clip: long enough to hear a string die or beat, short enough for 47 of them in one page of 3 MB."""
    lead_s: float = 0.04
    """Sound before the onset that is kept, so that the attack is whole."""
    fade_s: float = 0.15
    """Fade at the end; at the start `lead_s` serves."""
    level_db: float = -20.0
    """RMS of every clip over its loudest `level_span_s`, dB below full scale; leaves room for the attack's peak."""
    level_span_s: float = 0.4
    """Stretch that the level is measured over: about how long the ear takes to judge loudness (integration time of
    the momentary level of EBU Tech 3341)."""
    peak_db: float = -1.0
    """No sample above this: levelling gives way to it (EBU R 128 allows −1 dBTP)."""
    most_gain_db: float = 40.0
    """A pluck fainter than this would bring up noise, not string."""
    rate_hz: int = 48000
    """Rate that Opus works at (RFC 6716)."""
    bit_rate: int = 40000
    """Opus at 40 kbit/s is transparent for single mono tones by RFC 6716's own advice (28 to 40 for full-band speech,
    48 up for music); a harp string is the sparsest music there is."""
    complexity: int = 3
    """Effort of the encoder, 0 to 10: measured, 47 clips take half the time of 10."""
    spectrum_s: float = 1.0
    """Stretch after the onset that the drawn spectrum is taken from."""
    spectrum_lowest_hz: float = 25.0
    spectrum_highest_hz: float = 10000.0
    spectrum_points_n: int = 240
    """Range and points of the drawn spectrum, evenly spaced in pitch: 8.6 octaves at 28 points each."""
    spectrum_floor_db: float = -80.0
    """Bottom of the drawn spectrum, against its highest point."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchSettings:
    """The joint reading of all plucks (`matching`). Probabilities are of what people and harps do, set from the
    recordings at hand and the range of harps in `tests/bench`; the reading is not sensitive to factors of two."""

    lowest_hz: float = 20.0
    highest_hz: float = 3800.0
    """Range of pitches; the same as the evidence's."""
    grid_cents: float = 10.0
    """Step of the pitch grid: finer than the scatter of any slack harp."""
    offset_lowest_cents: float = -1000.0
    offset_highest_cents: float = 300.0
    """Range of the common deviation: let down by up to ten semitones; sharp by three."""
    offset_step_cents: float = 20.0
    scatters: tuple[tuple[float, float, float], ...] = (
        (8.0, 9.0, 0.25),
        (22.0, 12.0, 0.3),
        (42.0, 15.0, 0.3),
        (70.0, 20.0, 0.15),
    )
    """Hypotheses (each string's own scatter in cents, walk of the common deviation from one pluck to the next in
    cents, prior): from a harp in tune to one that is wild."""
    skips: tuple[tuple[float, float], ...] = ((0.02, 0.3), (0.1, 0.5), (0.3, 0.2))
    """Hypotheses (probability that a string is not plucked, prior): all there, some missing, a third of them."""
    skip_when_told: float = 0.004
    """The same once the person said which are missing, and of plucking one that was said to be: people forget one, and
    of 272 plucks only 20 dB over the noise a dozen were not found before `PluckSettings.quiet_rise_db`."""
    tap_habit: float = 0.1
    """Prior that the person taps for strings that are not there, as the instructions offer (our judgement) …"""
    tap_skip: float = 0.1
    """… the probability of a string that is not there, on such a harp …"""
    tapped: float = 0.9
    """… and the share of those that are tapped for."""
    mistaken: float = 1e-6
    """Probability that a person's word on order, first or last string, or a single pluck does not hold."""
    stray: float = 0.01
    """Probability that no candidate is the pitch (an octave or noise misled all)."""
    far_share: float = 0.04
    far_cents: float = 60.0
    far_scatters: float = 2.0
    """One string in 25 is far from its neighbours' deviation: by 60 cents and twice their scatter."""
    octave_share: float = 0.02
    octave_wide_cents: float = 130.0
    """One in 50 (a new string) is about an octave low."""
    lost_share: float = 0.004
    lost_lowest_cents: float = -2600.0
    lost_highest_cents: float = 300.0
    """And one in 250 anywhere down to two octaves low."""
    repeat: float = 0.05
    """Probability that a string is plucked again at once."""
    slip: float = 0.025
    """Probability of going back to one of the strings before."""
    slips: tuple[float, ...] = (0.5, 0.25, 0.13, 0.08, 0.04)
    """Shares of going back one, two, … strings of the layout: mostly one to three that are there."""
    slip_new: float = 0.03
    """Share of slips to a string that had been passed over without notice."""
    owe: float = 0.025
    """Probability that a string is passed over by a slip of the hand, to be plucked soon …"""
    owed_n: int = 4
    """… before more than this many strings are behind it …"""
    pay: float = 0.5
    """… and that it is plucked with the next pluck."""
    ages_n: int = 10
    """Events over which it is remembered which pluck was a string's last."""
    hopeless: float = 20.0
    """A hypothesis that is this much (natural log) behind the best after any event is given up: one in 10^8."""
    negligible: float = 1e-5
    """Marks and hypotheses of less probability than this are left out: no probability moves by 0.001."""
    no_harp: float = 1e-3
    """Probability that a recording has no string in it."""
    nothing: float = 0.1
    """Probability that an event is no string."""
    softer_db: float = 11.0
    softer_scale_db: float = 2.0
    """A second pluck of a string that is 11 dB softer than the first is as likely the first one still ringing (a gain
    that recovers after speech lets it re-emerge)."""
    same_cents: float = 6.0
    """Two plucks of one string agree within this: glide and takes, 4 to 5 cents at the 95th percentile (measured), and
    some more on slack strings, which glide further."""
    named_within_s: float = 0.25
    """A correction by time means the event nearest to it, within this."""
    kept: float = 0.001
    """Readings below this are not kept in the survey."""
    listed: float = 0.05
    """Other readings are listed from this probability on (part of the tables' contract)."""
    other_octave: float = 0.5
    """Half an octave (in octaves) away from the measured pitch is another reading of it."""
    odds_worth: float = 1.0
    """Weight of the evidence for "no string"."""
    odds_even: float = 0.5
    """Log-odds of the evidence at which plucks and other sounds are as frequent (2,181 plucks, 1,118 other sounds)."""
    anywhere: float = 0.02
    """Probability that a recording of a whole harp begins or ends at any string."""
    tuned_share: float = 0.4
    tuned_cents: float = 50.0
    slack_ranges: tuple[tuple[float, float, float], ...] = ((-400.0, 60.0, 0.4), (-1000.0, 200.0, 0.2))
    """Prior of the common deviation: in tune, let down as for transport, anything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadSettings:
    """Tension, stress and expected stiffness (`load`)."""

    near_breaking_share: float = 0.707
    """From this share of the breaking stress a string stands close to breaking: three semitones below it, the
    outer end of the 1 to 3 semitones that keyboard tradition keeps (article on metal-strung harps)."""
    neighbours_n: int = 2
    """Strings to either side that a string's tension is compared with: few, as tension changes along the harp."""
    odd_tension_ratio: float = 1.6
    """Full tension this many times its neighbours' is odd: the next gauge changes it by some 20 % (from memory)."""
    generic_length_share: float = 0.15
    generic_diameter_share: float = 0.20
    """Relative standard uncertainty of the built-in estimates against any one harp (our judgement)."""
    measured_length_share: float = 0.005
    measured_diameter_share: float = 0.02
    """A tape measure to 2 mm on 400 mm; callipers to 0.02 mm on 1 mm."""
    modulus_share: float = 0.3
    """Young's modulus depends strongly on frequency, stress and make (nylon: Lynch-Aird & Woodhouse, Materials 10
    (2017) 497)."""
    wound_share: float = 1.0
    """Stiffness the winding adds to the core: up to as much again (our judgement; no complete formula)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoSettings:
    """The invented harp of `demo`. All values are invented; they are chosen to be likely for a lever harp."""

    seed: int = 34
    rate_hz: int = 44100
    """As most recorders write."""
    slack_cents: tuple[float, float] = (-80.0, -260.0)
    """Least and most of the smooth slackness before."""
    slack_scatter_cents: float = 12.0
    """Most that one string departs from it."""
    tuned_cents: float = 3.0
    """Most that a string is off afterwards."""
    c2_hz: float = 65.41
    t60_c2_s: float = 7.0
    """Decay of a sound string at C2 …"""
    t60_fall: float = 0.6
    """… and the power of frequency by which it shortens: 1 s at A6."""
    fall_with_number: float = 0.6
    """Power of its number by which a partial dies faster."""
    dull_damping: float = 2.4
    """How much more a dull string is damped."""
    split_hz: float = 1.3
    """Beat of the false string …"""
    split_level: float = 0.6
    """… and the level of its weaker half."""
    inharmonicity: float = 1.5e-4
    partials_n: int = 40
    highest_hz: float = 12000.0
    """No partials above."""
    pluck_at: tuple[float, float] = (0.3, 0.45)
    """Share of the length."""
    finger_width: float = 0.02
    """Share of the length."""
    pluck_rms: tuple[float, float] = (0.06, 0.12)
    """Full scale 1."""
    rise_s: float = 0.002
    """A finger takes that long to let go."""
    body_hz: tuple[float, ...] = (118.0, 176.0, 243.0, 365.0, 520.0)
    """Modes of the soundboard, heard in a knock."""
    body_quality: float = 15.0
    click_s: float = 0.003
    knock_peak: float = 0.35
    """A knock on the case, full scale 1 …"""
    pluck_knock: float = 0.05
    """… and the share of it in every pluck."""
    noise_rms: float = 3e-4
    """A quiet room: some 50 dB below the plucks."""
    lead_s: float = 1.5
    tail_s: float = 2.5
    gap_at_hz: tuple[float, float] = (110.0, 800.0)
    gap_s: tuple[float, float] = (3.8, 2.4)
    """From one pluck to the next at and below the first of those frequencies, at and above the second."""
    knock_gap_s: float = 1.4
    """From the knock to the next pluck."""
    muffle_s: float = 0.06
    """A palm takes that long to silence a string."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PitchSettings:
    """Measuring the pitch of a matched pluck (`pitch`)."""

    start_s: float = 0.15
    stop_s: float = 1.35
    """The window of the definition, from the onset."""
    high_above_hz: float = 1500.0
    high_start_s: float = 0.05
    """Above 1.5 kHz the window starts earlier (definition): such strings are gone after half a second."""
    earliest_s: float = 0.03
    """Where plucks follow closely the window may start as early as the attack's noise allows."""
    least_s: float = 0.2
    """Shortest window wished for: 0.2 s resolves 5 Hz."""
    guard_s: float = 0.04
    """Kept clear of the onset and of the next sound: the finger's touch."""
    partials: int = 10
    """Partials tried: higher ones add little to the first and obey the law less."""
    highest_hz: float = 9000.0
    band_share: float = 0.42
    band_least_hz: float = 9.0
    band_most_hz: float = 45.0
    """Half-width of a partial's band: 0.42 of the first partial, so that neighbouring partials stay out; no narrower
    than what follows a decay of 0.1 s, no wider than noise is welcome."""
    least_values: int = 6
    """Fewer values of the envelope than this are no measurement."""
    seek_cents: float = 60.0
    """A partial is looked for this far from where the seed puts it: real partials lie up to 30 off the law."""
    seek_widths: float = 0.5
    """Where that is more than half a band's half-width, the first partial is looked for in a wider band first."""
    gap_share: float = 0.22
    """Half-width of the gaps between partials that show the noise, share of the first partial's frequency."""
    least_noise: float = 1e-16
    """Power of digital silence: 160 dB below full scale."""
    ring_s: float = 0.6
    """Stretch before the onset in which earlier strings are looked for."""
    ring_matters_db: float = -30.0
    """A ring below this pulls the frequency by less than a thousandth of the distance between the two."""
    ring_clear: float = 10.0
    """A ring must be 10 dB above the noise to be modelled."""
    ring_tones: int = 2
    """Tones that ring in one band: rarely more than one string's partial and its octave's."""
    ring_condition: float = 1e-3
    ring_apart_hz: float = 0.8
    """Closer than this, a window of 1.2 s cannot part them."""
    ring_remains: float = 0.15
    """Share of a modelled ring's amplitude that may remain."""
    ring_pull_hz: float = 0.5
    """How far a tone of equal strength left in the band may pull the mean frequency: half the resolution."""
    tuned_ring_db: float = -15.0
    """With less ring than this the first partial places the search for the others."""
    clear_power: float = 5.0
    """"Clear of the noise": 7 dB above its mean power."""
    glide_cents_per_s: float = 12.0
    """What glides do after a pluck: some cents within the first half second (one standard deviation)."""
    glide_scatter_cents_per_s: float = 2.0
    """Single partials depart from the string's glide by this where two polarisations beat."""
    bent_share: float = 0.5
    """A glide is not straight: carried from one partial's centre of energy to another's it may be half off."""
    centre_doubt_s: float = 0.04
    gain_centre_doubt_s: float = 0.08
    """How far a room, or a recorder's own gain, moves the centre of energy, and with it what a glide gives: a gain
    that follows a falling bass string at 8 dB/s moves it by 0.1 s."""
    independent_share: float = 0.1875
    """Independent values per value of the envelope: four values a second and hertz of half-width, and the squared
    cosine's equivalent noise width is 3/8 of the full width (computed)."""
    residual_terms: int = 16
    signal_terms: int = 8
    """Polynomials by which the envelope may depart from a damped sinusoid: eight follow two beats within the window;
    those above show what else sounds in the band."""
    shrink: float = 2.0
    """A coefficient counts once its power is twice the noise's: noise alone reaches that one time in seven."""
    room_share: float = 10.0
    """A room's answer bends the phase in the shape of its drift as much as in the next shapes: power in the first two
    polynomials against the mean of the next three (from synthetic plucks in rooms of 0.2 to 0.6 s)."""
    least_snr: float = 25.0
    """Noise alone, with some hundred independent values to choose from, reaches 10 one time in 200."""
    most_fall_per_s: float = 60.0
    """No string loses its amplitude faster: 60 dB in 0.12 s."""
    first_deviation_cents: float = 12.0
    """A first partial less sure than this is better inferred from the others."""
    law_partials: int = 3
    """From three partials on the law is fitted."""
    law_rounds: int = 4
    least_law_cents: float = 0.05
    """Even where the partials obey the law perfectly, no closer than this."""
    usual_scatter_cents: float = 8.0
    """Partials off the law, where too few are there to tell: root mean square on two real harps."""
    usual_stiffness: float = 1.5e-4
    usual_loose: float = 1.2
    """B where the layout says nothing: gut and nylon in the middle (computed from handbook moduli), a factor of three
    either way."""
    most_stiffness: float = 5e-3
    body_scatters: float = 2.0
    """The soundboard pulls the first partial further off the law than the others: by about twice their scatter."""
    body_cents: float = 4.0
    """The soundboard pulls the first partial off the law of the others: by some 4 cents, root mean square (measured on
    two harps); counts where it is inferred."""
    definition_cents: float = 0.05
    definition_hz: float = 0.004
    """What the definition itself leaves open (start of the window, end of the sound)."""
    coverage: float = 2.0
    """Coverage factor for 95 % (JCGM 100, 6.3.3)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceSettings:
    """Checking the recorder's clock against a tone of known frequency (`reference`)."""

    within_s: float = 20.0
    """The tone starts within the first 20 seconds: it comes before the strings."""
    skip_s: float = 0.3
    """After an event: a fork's clang (its second mode) and the knock that struck it are gone."""
    guard_s: float = 0.1
    least_s: float = 1.5
    """1.5 s of a tone 30 dB above the noise give a hundredth of a cent at 440 Hz; the rest is room for its steadiness
    to show."""
    longest_s: float = 8.0
    lead_s: float = 0.25
    """Read before the stretch, so that the band has settled where it begins."""
    search_cents: float = 120.0
    """Half-width of the band: four times what a clock may be off, so that another tone is seen for what it is."""
    most_cents: float = 30.0
    """1.7 %: the worst recorder is off by a hundredth of it; a tape recorder by as much."""
    least_share: float = 0.25
    """Of the sound's energy: a string's partial at the same frequency carries less."""
    most_fall_db_per_s: float = 9.0
    """A fork on a table loses some 5 dB/s, strings near A4 15 and more."""
    steady_cents: float = 0.5
    """From one half of the stretch to the other: a string glides by more."""
    glide_cents_per_s: float = 0.1
    """A fork's frequency does not depend on its loudness by more than this."""
    floor_cents: float = 0.02
    """Standard deviation when noise alone would give less: what the band's edges and rounding leave (computed)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DecaySettings:
    """Measuring how a pluck dies away (`decay`)."""

    settled_s: float = 0.05
    """The settled onset: the finger's noise lasts some 5 ms, the knock of the soundboard some 50."""
    guard_s: float = 0.05
    """Kept clear of the next sound: the touch that damps."""
    step_s: float = 0.01
    partials: int = 14
    """Partials that make up the string's sound: higher ones carry little energy after the settled onset."""
    highest_hz: float = 9000.0
    band_share: float = 0.35
    band_least_hz: float = 8.0
    band_most_hz: float = 70.0
    """Half-width of a partial's band: as wide as neighbours allow (a band of 70 Hz remembers 15 ms), no wider."""
    least_values: int = 6
    smooth_values: int = 8
    """80 ms: to judge where the sound goes under in the noise."""
    clear_power: float = 4.0
    """"Clear of the noise": 6 dB above its mean power."""
    trend_values: int = 25
    damped_values: int = 8
    damped_db: float = 6.0
    """A hand on the string: within 80 ms it falls 6 dB below what the last 250 ms promise, and never comes back (a
    beat does)."""
    from_db: float = -5.0
    to_db: float = -25.0
    """T20 of ISO 3382."""
    least_range_db: float = 10.0
    """A Schroeder curve that is cut before it fell this far says too little."""
    end_margin_db: float = 2.0
    """The last 2 dB of a curve are mostly the guess about its tail."""
    wanted_db: float = 20.0
    longest_s: float = 60.0
    """No string rings longer; a slope below this is none."""
    noise_less: float = 0.2
    noise_more: float = 0.8
    """The noise may be so much less or more than it is taken for. It is read from the quieter of two places beside a
    partial; of noise that falls by 3 dB an octave (hiss of a room) 1.4 to 1.7 times as much lies at the first one."""
    band_memory: float = 3.0
    before_s: float = 0.07
    """What sounds besides is read for 70 ms before the onset, clear of it by 3/half-width, which a band remembers."""
    besides_doubt: float = 0.15
    """Relative doubt where it is as loud as the string at the end of the range: it beats with the string's partials."""
    independent_share: float = 0.75
    """Independent values of noise a second in a band, over its half-width in Hz."""
    tail_doubt: float = 0.5
    """What follows where a decay goes under in noise may be half or twice what the late slope says."""
    least_usual: int = 5
    """Strings that say how unsteady a recording's usually are."""
    least_unsteady: float = 0.06
    most_unsteady: float = 1.0
    """Natural logarithms: partials' rates may change by so much after a cut where they did not before; and by no more
    than this where a beat turned them about (what followed was off by 0.9 on a concert harp's notes)."""
    gain_range_db: float = 20.0
    """A gain that is unknown by 1 dB over the 20 dB of T20 makes the decay unknown by a twentieth."""
    coverage: float = 1.96
    """Coverage factor for 95 % of a normal distribution (JCGM 100, table G.1)."""
    bend_usual: float = 0.05
    bend_doubt: float = 1.3
    """A curve whose halves differ in slope (natural logarithm) is the string's and something else's: a room, strings
    that answer. What differs by more than a double decay usually makes it counts so much as relative doubt (synthetic
    harps whose strings all answer)."""
    bass_hz: float = 250.0
    bass_doubt: float = 1.0
    bass_missed: float = 0.4
    """Where a recorder filters partials below 250 Hz (microphones of phones do), they are restored by what it leaves
    of the noise there; what that changes is doubt, and more where a partial is lost altogether."""
    lone_doubt: float = 0.2
    louder: float = 4.0
    """Partials are tried so many times louder and softer: as far as a room has them (6 dB) …"""
    louder_values: int = 25
    """… with so many values of the line: enough to see it turn."""
    settled_doubt: float = 0.0015
    onset_doubt_s: float = 0.0015
    """What the choice of partials and of the settled onset leaves open (95 %): relative, and over the decay."""
    most_relative: float = _MOST_RELATIVE
    curve_step_s: float = 0.05
    most_s: float = 10.0
    """Longest stretch looked at: the deepest wires have fallen 25 dB by then."""
    early_db: float = 20.0
    """A partial's own decay is taken over its first 20 dB: early enough to stand clear of the noise and of the room."""
    partial_from_db: float = -1.0
    partial_least_db: float = 3.0
    """A curve over less says nothing of its slope."""
    room_matters_s: float = 0.5
    room_power: float = 3.0
    """Decays much shorter than a furnished room's 0.5 s are read from the level, longer ones from the energy: what did
    best on synthetic harps in rooms of 0.3 to 0.8 s."""
    partial_doubt_db: float = 3.0
    """What beats, noise and the guess about the tail leave open at the end of the range used."""
    partial_bend_doubt: float = 0.5
    """Share of the disagreement of the two readings that counts as doubt: beats and double decays make it."""
    unknown_bend: float = 0.5
    fast_s: float = 0.15
    fast_doubt: float = 0.3
    """Doubt of ln T60 for one this short (other times in inverse proportion): the band's own memory and the room."""
    after_sound_ratio: float = 1.6
    """An after-sound is noted where what follows the first 20 dB falls this much more slowly …"""
    after_sound_values: int = 20
    """… over at least 0.2 s."""
    least_log_deviation: float = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSettings:
    """Telling a room's reverberation from the strings' own decay (`room`)."""

    first_s: float = 0.02
    """Partials' bands are 70 Hz wide to each side at most: they remember 15 ms."""
    step_s: float = 0.01
    steps: tuple[tuple[int, int, int], ...] = ((0, 20, 1), (20, 50, 2), (50, 126, 5))
    """Where curves are compared, in steps from `first_s` on: (from, to, every)."""
    early_hz: float = 700.0
    settled_values: int = 3
    """Partials below 700 Hz are looked at from 0.05 s on: the soundboard's knock lasts as long."""
    most_values: int = 300
    """3 s are looked at: what rings longer is no matter of a room."""
    smooth_values: int = 8
    clear_power: float = 4.0
    least_values: int = 4
    quiet_after: int = 10
    quiet_values: int = 60
    """0.6 s from 0.1 s after its end on show what a band's noise is, and what other strings leave in it."""
    noise_doubt: float = 0.25
    """Relative doubt of the noise's power …"""
    after_doubt: float = 0.5
    """… and of the energy after the end …"""
    clear_energy: float = 2.5
    """… which the energy still to come must exceed so many times."""
    longest_after_s: float = 20.0
    range_db: float = 30.0
    shortest_s: float = 0.05
    longest_s: float = 10.0
    own_n: int = 32
    """Decay times tried for a partial."""
    rooms_s: tuple[float, ...] = (0.2, 0.24, 0.29, 0.34, 0.41, 0.48, 0.58, 0.69, 0.82, 0.98, 1.18, 1.4, 1.68, 2.0)
    levels_db: tuple[float, ...] = (-120.0, -24.0, -20.0, -16.0, -12.0, -8.0, -4.0, 0.0, 4.0)
    """Rooms tried: decay times, and energies of their response against the direct sound; the first is no room."""
    curve_db: float = 0.6
    """What a curve departs from its expectation by, without a room: beats, noise. Beating notes of a real harp would
    have it larger, synthetic ones smaller."""
    independent_per_s: float = 105.0
    """Independent values a second of a band of 70 Hz to each side."""
    independent: float = 1.0
    """Departures along one curve hang together: they are worth so many."""
    freedom: float = 6.0
    """Degrees of freedom of Student's t: single curves may be off altogether."""
    short_s: float = 1.5
    """Partials that ring longer tell nothing of a furnished room, nor does it matter to them."""
    least_rows: int = 40
    most_rows: int = 80
    coarse: int = 2
    """Least partials for a room to show, most that are asked, and every which value of the grid for that."""
    rounds: int = 2
    level_scatter_db: float = 2.5
    """A room's response from partial to partial (a diffuse one of 0.8 s: 1.8 dB)."""
    none_below_db: float = 4.0
    """No room for one partial counts as so much below the least level tried."""
    search_scatter: float = 0.5
    usual_scatter: float = 0.7
    """Of ln T60 about what is usual at that frequency and number (two real harps: 0.3 within a string): to find the
    room, and, wider, for a partial that may be a dull string's."""
    most_log: float = 5.0
    """Most that one partial says against a room."""
    least_deviation: float = 0.1
    most_share: float = 0.8
    """Of the usual scatter's variance: a partial's course always says a little."""
    matters: float = 1.0
    matters_loud: float = 1.5
    loud_db: float = -13.0
    """Partials heard to ring up to so many times as long as the room are given their own decay: those whose decay a
    faint room leaves as it was, and those that a loud one, still filling, lengthens too. Chosen on synthetic rooms, on
    a concert harp's notes and with recordings of real harps in view: on synthetic ones alone the two hardly differ."""
    most_relative: float = _MOST_RELATIVE
    heard_db: float = -18.0
    """A fainter room is none, or a string's own after-sound: decays of whole strings are left as they are."""
    doubt_early: float = 7.0
    doubt_late: float = 0.35
    """Of a string's decay in a room, times the amplitude of its response against the direct sound. Early: it changes
    the partials' powers by chance, by √2 of them (1.96 times that for 95 %), and is found 3 to 7 dB fainter than it is;
    times how much the decay hangs on them (`Decay.balance`). Late: what builds up or stays behind, times the room's
    decay over the string's (synthetic harps in rooms of 0.3 to 0.8 s, diffuse and boxes)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GainSettings:
    """Following a recorder's automatic gain by its hiss (`gain`)."""

    hiss_least_db: float = -130.0
    """dB per Hz: less is dither or a codec's nothing (as in the check-up)."""
    smooth_frames: int = 5
    """0.23 s: the hiss band's own fluctuation is then about 0.1 dB, and 8 dB/s (a simulated phone) still followed."""
    attack_s: float = 0.1
    """The attack's own noise is over by then."""
    fallen_s: float = 0.03
    """The gain has fallen by then, and rises again (a simulated phone)."""
    early_s: float = 0.4
    """How fast it rises where it begins to show is read over this: long enough for the hiss's fluctuation."""
    least_spread_s2: float = 0.01
    """Sum of squared times that a slope is read from, at least: four frames."""
    guard_s: float = 0.15
    """Kept clear of the next attack, which the smoothing would let in."""
    fall_s: float = 0.02
    least_frames: int = 8
    covered_db: float = 1.0
    """Where the hiss stands this far above what it falls to later, the string covers it."""
    steepest_db_per_s: float = 10.0
    most_db_per_s: float = 60.0
    """Recorders turn up slowly, or it would be heard (our judgement; a simulated phone: 8). Where the hiss shows this
    one to be faster, that counts, up to as fast as the hiss is followed."""
    unknown_db: float = 6.0
    """Doubt where a pluck is too short to see anything."""
    coverage: float = 1.96
    """Coverage factor for 95 % of a normal distribution (JCGM 100, table G.1)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GateSettings:
    """Finding a recorder's gate by its hiss (`gate`)."""

    hiss_least_db: float = -130.0
    """dB per Hz, through the open gate: less is dither or a codec's nothing (as in the check-up)."""
    attack_s: float = 0.1
    """The attack's own noise is over by then."""
    guard_s: float = 0.15
    """Kept clear of the next attack, which the smoothing would let in."""
    least_frames: int = 8
    smooth_frames: int = 5
    """0.23 s: the hiss band's own fluctuation is then about 0.1 dB (as for the gain)."""
    class_db: float = 3.0
    """Classes of level: a gate of 2 : 1 moves the hiss by 1.5 dB in one."""
    quantile: float = 0.25
    """Of the hiss in a class: up to half of the strings may cover it by their treble."""
    least_plucks: int = 6
    """In a class, and moved by the curve (as in the check-up)."""
    moved_db: float = 1.0
    """Standard deviation that the curve has to give the hiss within a pluck: the hiss's own is 0.5 dB."""
    explained: float = 0.4
    """Share of the hiss's variance within the typical pluck that the curve explains: through gates mostly more than
    0.8, through slow ones and beside a rising gain some 0.4 to 0.9, without any 0.13 at most (865 recordings: dry and
    in rooms of up to 1.6 s, fixed and rising gains, noise that comes and goes, AAC, MP3 and Opus)."""
    class_s: float = 0.15
    """Classes of time since the onset, where that is tried in the level's place."""
    beyond_time: float = 0.2
    """Share of plucks in which the level explains the hiss better than the time does: through gates 0.3 (slow ones) to
    1, in simulated noise that every pluck brings along 0."""
    most_db: float = 24.0
    """Noise suppressors and expanders turn down by 10 to 20 dB, gates by 30 and more (common practice, no source)."""
    closing_db: float = 6.0
    """A gate that far down is closing: a few dB are within what its level says of it."""
    turned_up_db: float = 3.0
    turned_up_share: float = 0.25
    """Plucks in which the hiss rises so far against the curve: through gates that follow the level at once in a tenth,
    beside a rising gain in half and more. So it does where a gate is slow, which its hiss shows better as well."""
    read_db: float = 25.0
    """A decay is read down to -25 dB."""
    doubt: float = 0.2
    """Of the gate's fall while a decay is read, as half of a 95 % interval: without it 2 to 4 % more of the intervals
    miss (simulated gates of seven laws)."""
    unknown_db: float = 6.0
    """Doubt where a pluck is too short to see anything (as for the gain)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LossSettings:
    """Losses as physical laws (`loss`)."""

    least_partials: int = 4
    """Three terms need more than three partials."""
    partial_scatter: float = 0.3
    """Of ln loss about the law: soundboards take energy unevenly (two real harps: 0.31 to 0.33)."""
    rounds: int = 4
    """After four the law moves no more than its third digit."""
    law_doubt: float = 1.25
    """What a soundboard takes of neighbouring partials may hang together: of laws drawn so that it does over 1.2
    partials intervals then hold nine in ten, of independent ones 97 in a hundred or more."""
    least_strings: int = 8
    typical_number: int = 3
    """Partial at which laws are compared: the middle of those that most strings have."""
    high_loss: float = 0.003
    """A typical loss factor above this says that all strings may be old: 0.002 is where a nylon string begins to sound
    dull (Woodhouse, Euphonics, 7.2.2), two real harps in use show 0.001. Our judgement: no measured figure for old harp
    strings was found."""
    same_note_cents: float = 150.0
    """A string of another harp up to this far off is the same note, one of the two perhaps slack: decays change by a
    twentieth over that."""
    least_common: int = 2
    """Partials that both must have for a string to be compared."""
    clearly: float = 3.0
    """Standard deviations of this harp's strings."""
    other_recording: float = 1.4
    """What another room and recorder may make of the same harp's damping: invented harps dry against a room of 0.8 s
    or a phone differ by up to 1.2 (the cells of `tests/bench/condition.py`); twice that, since harps differ too."""
    coverage: float = 1.96
    """Coverage factor for 95 % of a normal distribution (JCGM 100, table G.1)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RattleSettings:
    """Rattles and buzzes (`rattle`)."""

    lead_s: float = 0.25
    """Before the onset: the bands' own noise."""
    guard_s: float = 0.05
    settled_s: float = 0.03
    """The finger's noise lasts some 5 ms, and the knock of the soundboard has little above 1.5 kHz."""
    most_s: float = 2.0
    least_s: float = 0.35
    """A shorter pluck shows no end of a buzz."""
    lowest_hz: float = 1500.0
    lowest_partial: float = 8.0
    highest_hz: float = 9000.0
    highest_share: float = 0.45
    """The bands looked at: above what carries the string's tone, below the recorder's limit (share of the rate)."""
    least_span: float = 1.5
    bands: int = 6
    least_bands: int = 3
    """That stand clear at the start: with fewer, a beat of two partials may be in most of them."""
    low_share: float = 0.7
    window_s: float = 0.02
    window_periods: float = 2.0
    step_s: float = 0.01
    smooth: int = 5
    """Values averaged: 50 ms."""
    quiet_share: float = 0.1
    clear_db: float = 10.0
    gone_db: float = 3.0
    """Above a band's noise: clear of it, gone in it."""
    least_frames: int = 7
    least_periods: int = 3
    padding: int = 4
    line_hz: float = 3.0
    line_bins: float = 1.5
    around: float = 0.4
    """A line of the envelope's spectrum is this wide; what it is compared with lies within 0.4 of its rate."""
    most_dip_db: float = 1.5
    """A sound that first falls further below the straight line does not hold from the start."""
    least_held_db: float = 3.5
    """Clean strings stay below: those of two real harps at 2.3 dB, invented ones whose planes beat at once in many
    partials at 3 dB; strings that strike something, or shake it, hold 4 to 8 dB (`tests/bench/rattle.py`)."""
    least_locked_db: float = 15.0
    """A line of noise stands that far above the median of 50 by chance once in 10 000."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldingSettings:
    """Strings whose pitch falls from pluck to pluck (`holding`)."""

    beyond: float = 1.5
    """A fall counts from this many joint 95 % intervals on: by chance in one string of 600 that are plucked twice."""
    glide_cents: float = 4.0
    """What a much louder first pluck may read sharper for its glide (a remembered few cents for gut and nylon)."""
    most_cents: float = 300.0
    """More is rather another string, or one that was retuned."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FalseSettings:
    """Beating partials and false strings (`beating`, `falseness`)."""

    settled_s: float = 0.08
    guard_s: float = 0.05
    partials: int = 6
    band_share: float = 0.35
    band_least_hz: float = 8.0
    band_most_hz: float = 24.0
    """Half-width of a band: a beat of 8 Hz with its side tones."""
    clear_power: float = 10.0
    model_share: float = 0.05
    """Relative misfit of power that any two-tone model is allowed besides noise: 0.2 dB."""
    least_values: int = 16
    least_s: float = 0.4
    """A partial heard for less shows no beat worth the name."""
    most_hz: float = 9.0
    most_share: float = 0.4
    """Fastest beat looked for, also as a share of the band's half-width."""
    least_turns: float = 0.7
    grid_turns: float = 0.25
    """Slowest beat, and spacing of the first guesses, in turns within the time heard."""
    least_gain: float = 0.25
    """A sinusoid must explain this share of what a straight line leaves over to be looked at …"""
    most_left: float = 0.4
    """… and two tones must leave less than this share of it …"""
    most_u95_hz: float = 0.08
    """… with a rate known better than this, by all partials together (`beat_law`): beats slower than the decay are no
    beats to a listener either."""
    law_share: float = 0.8
    """Of partials that beat as their string's others do, the rest strays. A choice: no figure exists."""
    law_scatters: tuple[float, float] = (0.01, 1.0)
    law_scatter_steps: int = 8
    """By what share of it splits may scatter about a string's common one, all alike likely beforehand. From less than
    0.01 on, intervals would hold too seldom on strings whose splits agree to some hundredths."""
    law_reach: float = 4.0
    law_steps: int = 21
    """Common splits tried: about each partial's own, in its standard deviations."""
    rate_doubt: float = 1.2
    """What the fit leaves over makes the rate's deviation too small by a fifth (`tests/bench/beats.py`) …"""
    least_u95_hz: float = 0.009
    """… and a room, or strings that ring on, move a beat whose rate the fit knows many times better by about this: of
    whole recordings 0.87 to 0.93 of the intervals held with 0.003 (`tests/bench/false_strings.py`)."""
    start_ratios: tuple[float, float] = (0.08, 0.8)
    together_n: int = 64
    """Partials fitted together: enough for speed, little memory."""
    most_steps: int = 30
    settled_share: float = 1e-8
    """A step that betters the misfit by less ends the fit."""
    first_damping: float = 1e-3
    damping_factor: float = 3.0
    most_damping: float = 1e8
    """Marquardt's factor: less after a step that helped, more after one that did not, up to where steps are nothing."""
    every: int = 2
    """Values of the band taken, one in so many: they hang together anyway."""
    base_rate: float = 0.05
    """Share of false strings taken for granted before hearing; a choice, for no published figure exists."""
    call_false: float = 0.6
    """From this probability on a string is called false …"""
    check_false: float = 0.3
    """… and from this on it is to be checked by hand."""
    least_followed: int = 2
    clear_db: float = -14.0
    """A weaker tone below this makes the level waver by less than ± 2 dB: not what makes a string false."""
    most_alone_cents: float = 80.0
    """A beat that no other partial confirms counts below this: tones a semitone and more apart are two strings."""
    agree: float = 0.2
    """Splits of one string's partials agree within 20 % (natural logarithm)."""
    usual_least_cents: float = 2.5
    """Usual on a harp is the median of its strings (one without a clear beat counts as 0), at least this: on two
    real harps the strings that beat do so by 2 to 3 cents …"""
    usual_least_hz: float = 0.35
    """… and at least this at the first partial: a sound bass string may waver once in three seconds."""
    split_scatter: float = 0.4
    """Of ln split among sound strings (two real harps) …"""
    split_margin: float = 1.0
    """… and the standard deviations beyond which evidence begins."""
    partial_worth: float = 1.2
    most_worth: int = 3
    most_above: float = 2.0
    """Log-odds that each agreeing partial adds for each standard deviation, for how many partials and deviations."""
    none_worth: float = 1.0
    answering_partials: int = 12
    same_hz: float = 0.1
    answering_worth: float = 0.4
    """Share of the evidence that is left where another string would explain the beats."""
    law_least_cents: float = 3.0
    off_law: float = 3.0
    law_worth: float = 1.5
    """Partials that scatter off the law three times as much as is usual on this harp (which is taken as 3 cents at
    least: soundboards shift partials by that) add some evidence: alone not enough to call a string false."""
    weakest_db: float = -26.0
    coverage: float = 1.96
    """Coverage factor for 95 % of a normal distribution (JCGM 100, table G.1)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionSettings:
    """Judging strings against their neighbours (`condition`, `surface`, `brightness`).

    Scatters are natural logarithms of decay rates; where no source is named they did well on synthetic harps
    (`tests/bench/condition.py`) and on recordings of two real harps.
    """

    base_rate: float = 0.2
    """Share of dull strings taken for granted before hearing: one in five on a harp that has stood. A choice, for no
    published figure exists; stated in the report. Of two real harps' strings, an eighth of them damped more, 0.80 of
    what is called with 0.5 to 0.9 (0.77 in the mean) were dull; with 0.15 0.82 (of 0.78), and fewer are found."""
    first_base_rates: tuple[float, ...] = (0.4, 0.25)
    """The same in the first rounds of a second start: begun from "most are sound", dull strings are taken into the
    curve that they are then judged by. With it 0.54 of the strings damped half as much again are found where an eighth
    of two real harps' strings are damped more, 0.50 without; of those damped twice as much, where a fifth are, 0.79 and
    0.77; at 1.8 (1.5) % false calls, 1.7 (1.3) without."""
    dull_least: float = 1.3
    dull_most: float = 3.5
    """Damping of a dull string against a sound one: from what is barely audible to thrice and more."""
    dull_steps: int = 24
    call_dull: float = 0.5
    """From this probability on a string is called dull …"""
    check_dull: float = 0.3
    """… and from this on it is to be checked by hand."""
    constant_share: float = 0.3
    """Of dull strings, those that lose the same in a second more in all partials; the rest in proportion to what each
    partial loses. A choice: no figure exists."""
    most_slow: float = 1.2
    """The same loss for all shows at most this much in a partial against in the whole: the slowest ones are hardly
    measured before the next pluck."""
    slow_scatter: float = 0.1
    least_slow_scatter: float = 0.01
    """Of sound strings in what they lose alike in all partials: first guess and least."""
    stray_reach: float = 4.0
    stray_steps: int = 65
    """Departures of stray strings tried, in their scale."""
    stray: float = 0.1
    stray_scale: float = 0.35
    """One sound string in ten departs further than the rest's scatter, either way: strings couple to the soundboard
    unevenly, and one may be of another make. With one in 25, of invented strings called dull with 0.8 half were."""
    partials: int = 12
    least_partials: int = 2
    least_range_db: float = 6.0
    """A partial followed over less than 6 dB says little about its rate."""
    least_strings: int = 8
    """A curve over fewer strings is no curve."""
    level_scatter: float = 2.0
    place_scale: float = 10.0
    """Level and slopes (per ten strings, per factor e of the partial's number) are left free."""
    curve_scatter: float = 0.15
    reach_strings: float = 8.0
    """How far curves wander from straight lines, and within what distance: about an octave."""
    reach_number: float = 0.7
    """Partials within a factor of two follow a like curve."""
    wide_scatter: float = 0.2
    reach_wide: float = 0.7
    """The same along the frequency (natural logarithm: an octave) …"""
    body_scatter: float = 0.15
    reach_body: float = 0.1
    """… and as narrow as soundboards' resonances: of two real harps' partials within 50 cents of one another, on
    different strings, departures agree by some 0.2 of their variance, beyond 200 cents not, invented ones' never."""
    log_hz_step: float = 0.02
    """Frequencies nearer than a third of a semitone count as one."""
    least_eigenvalue: float = 1e-3
    """Of the largest: what is smaller makes no visible curve."""
    step_scatter: float = 0.3
    """Rates may step by a third where wire gives way to gut or nylon."""
    partial_scatter: float = 0.3
    least_partial_scatter: float = 0.08
    """Single partials about their string, first guess (two real harps: 0.31 to 0.33) and least."""
    string_scatter: float = 0.1
    least_scatter: float = 0.06
    most_scatter: float = 0.3
    """Sound strings about the surface: first guess, least and most."""
    scale_step: tuple[float, float] = (0.75, 1.3)
    """Most that one round changes a scatter."""
    least_scale: float = 0.7
    """A harp whose strings agree better than the model expects is believed down to this share."""
    freedom: float = 8.0
    """Degrees of freedom of the t distribution of single partials."""
    rounds: int = 4
    """After those of `first_base_rates`."""
    coverage: float = 1.96
    """Coverage factor for 95 % of a normal distribution (JCGM 100, table G.1)."""
    decay_scatter: float = 0.2
    dull_scatter: float = 1.0
    """Of ln decay_s about its curve; a string that is surely dull hardly shapes it."""
    comb_least_partials: int = 5
    comb_places: tuple[float, float, int] = (0.12, 0.5, 39)
    """Plucking points tried, share of the length: from near the soundboard to the middle."""
    comb_most_db: float = 15.0
    """A finger's width and the string's stiffness fill a comb's gaps to about this (our judgement)."""
    comb_gain: float = 0.6
    """A comb must leave less than this share of the misfit of a straight slope."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeSettings:
    """Two surveys of one harp side by side (`changes`, `likeness`)."""

    repluck_cents: float = 2.2
    """Half-width (95 %) of what a second pluck of a string in the same state may read differently: other finger, other
    place, other strength, and so another glide. Two takes of a real string differ by up to 1.5 cents in the median
    (measured); of invented ones that glide by up to 4 cents, 95 in 100 by less than 1.9 (`tests/bench/takes`)."""
    coverage: float = 1.96
    """Coverage factor for 95 % of a normal distribution (JCGM 100, table G.1)."""
    sure_cents: float = 3.0
    """With two pitches whose joint half-width is at most this, the partials are not asked; our judgement."""
    agreeing_cents: float = 1.5
    """Partials whose changes lie this near to one of them agree with it; of one string retuned by two semitones, most
    agreed within 0.5 (measured)."""
    agreeing_n: int = 3
    """Fewer that agree may do so by chance."""
    agreeing_floor_cents: float = 0.5
    """Half-width of what the partials' agreement cannot show, the first being among them …"""
    body_cents: float = 8.0
    """… and where it is not: the soundboard pulls a first partial by some 4 cents (`PitchSettings.body_cents`)."""
    least_common_n: int = 8
    """With fewer strings in both surveys, what phones and rooms make of them cannot be told from the strings."""
    neighbours_n: int = 8
    """What is common to two recordings is told from a string's nearest neighbours: with 12 and more the bend that a
    phone makes in the bass passes for the strings' own (`tests/bench/takes`; set on other harps than it reports)."""
    whole_share: float = 0.2
    """Of a string's scatter, as variance, that is the whole harp's: eight neighbours may lie near by chance; our
    judgement."""
    least_decay_ratio: float = 1.05
    """A decay within 5 % of the other is the same to a listener (ISO 3382-1, table A.1: difference limen)."""
    least_brightness_db: float = 1.0
    """About the smallest difference in level that is noticed (from memory)."""
    far_cents: float = 700.0
    """A string that moved by more than a fifth was hardly just tuned, and at so different a pitch it rings otherwise by
    itself; our judgement."""
    tight_cents: float = _OVERLOADED_CENTS
    """A string this far above its note is no better for being nearer to it than it was below: it is overloaded."""
    stiffness_ratio: float = 1.6
    """B of one string measured twice agrees better than this; another gauge or material differs by more: B goes with
    the square of a plain string's diameter (Fletcher, JASA 36 (1964) 203, at equal frequency and length)."""
    damping_ratio: float = 1.4
    """A string that rings this much longer than before, against the others, was cleaned or replaced, and one that rings
    shorter by as much is a finding where a harp is handed back; our judgement."""
    one_way_share: float = 0.75
    """From this share of the strings that moved on, the harp is said to have gone up, or down; our judgement."""
    alternative_share: float = 0.05
    """Readings of a pluck at least this probable are followed: the survey keeps no others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SettlingSettings:
    """Drift after tuning (`settling`)."""

    least_surveys_n: int = 3
    """Two surveys make a difference, three a curve."""
    least_strings_n: int = 2
    """With one string alone nothing is left of the harp where that one slips."""
    tolerance_cents: float = 5.0
    """A harp has settled when every string stays this near for `stay_days`; our judgement: half of the 10 cents that
    most amateurs notice (Hill & Summers, JASA 121 (2007) 2376)."""
    stay_days: float = 7.0
    brought_up_cents: float = 30.0
    """A rise of half the strings by more than this puts new tension on the harp, and creep starts anew; our judgement.
    """
    exponents: tuple[tuple[float, float], ...] = ((0.0, 0.0), (0.15, 0.0), (0.8, 1.0), (0.95, 1.0), (1.0, 1.2))
    """How the exponent of the law's rate is spread beforehand: share of the probability below -> exponent, straight
    between; 0, the exponential law, and 1, the logarithmic, have 15 % each, and the most is for the powers between:
    creep of polymers is said to follow powers of time of 0.1 to 0.35, exponents of 0.65 to 0.9 (from memory)."""
    tau_days: tuple[float, float] = (0.02, 10.0)
    """When the rate begins to fall. No published constant was found; strings are said to need from hours (nylon) to
    weeks."""
    endless: float = 0.5
    """How probable it is beforehand that the power goes on without end …"""
    end_days: tuple[float, float] = (0.7, 300.0)
    """… and else, when it ends."""
    no_slow: float = 0.3
    """How probable it is that there is no slower exponential besides …"""
    slow_most: float = 0.8
    """… the most of a month's creep that it may be …"""
    slow_days: tuple[float, float] = (3.0, 3000.0)
    """… and its constant; the longest are a flow without end, as in Burgers' body."""
    month_days: float = 28.0
    scatter_cents: tuple[float, float] = (0.3, 4.0)
    """What a string reads differently from one survey to the next beside creep, standard deviation: another pluck
    makes 0.8 (half-width 2.2 for two; `ChangeSettings.repluck_cents`), its own weather and playing the rest."""
    spread_share: tuple[float, float] = (0.05, 1.5)
    """How far strings of one material differ in size of creep, standard deviation, share of the harp's median."""
    pace_spread: tuple[float, float] = (0.02, 0.6)
    """How far they differ in pace, standard deviation of its logarithm."""
    group_pace: float = 0.25
    """The same of materials; our judgement: nylon is said to settle in days, gut in weeks."""
    pace_most: float = 2.5
    """No string is taken to creep more times as fast, or as slowly, as the harp."""
    span_limit: float = 3.0
    """What a pace changes is reckoned from at most so many times the harp's median fall: a slipping string must not
    excuse itself."""
    common_cents: tuple[float, float] = (0.2, 2.0)
    """What all strings do together from one survey to the next (weather), standard deviation; our judgement."""
    weather_alike: float = 0.8
    """Correlation of that between materials …"""
    weather_days: float = 4.0
    """… and the days over which it is lost (to e); our judgement."""
    clock_floor_cents: float = 0.1
    """Keeps the matrices well-conditioned."""
    mean_drift_cents: float = 60.0
    """Standard deviation of the mean creep of a material, before anything was measured: weak."""
    free_cents: float = 300.0
    """Where a string stood when first recorded is free."""
    tuned_cents: float = 2.0
    """How near a string is left to its note by a stated retuning, standard deviation; our judgement."""
    ending_ratio: float = 0.75
    """Creep is said to come to an end when the second half of the days has less than this share of what the quarter
    before had: midway between a logarithmic law (1) and an exponential that has passed twice its constant (0.5)."""
    particles_n: int = 160
    moves_n: int = 2
    last_moves_n: int = 8
    """Of the sampling: draws, moves after each step and after the last; twice as many changed the days by much less
    than their intervals."""
    trust: float = 0.4
    """Power of the likelihood of law and scatters: no law of the family is a string's own, so that less is believed
    than it claims; set so that intervals hold what they say, on simulations with other seeds than those reported."""
    draws_each_n: int = 6
    """Draws of the strings' sizes for each of those."""
    batch_n: int = 400_000
    """Numbers worked on at a time, to spare memory."""
    seed: int = 7
    horizon_days: float = 180.0
    """Beyond this no day is named."""
    likely_days: float = 1.25
    """The day named is that near which most of the forecasts lie: weights fall off with this standard deviation, as
    wide as a window of 2 days to either side …"""
    likely_step_days: float = 0.05
    """… and it is looked for in these steps."""
    day_step: float = 0.25
    days_n: int = 100
    """Days at which settling is looked for: from the first step to the horizon, closer at first."""
    lengths_n: int = 60
    """The same for how long the tuning holds."""
    slip_odds: float = 3.5
    """A string is said to keep falling when the readings are exp(3.5) = 33 times likelier so than by creep alone, of
    whatever law: a harp has some 40 strings that may give a false alarm, and newly fitted ones creep unlike the rest.
    On 622 simulated harps (seeds 5001, 6007, 6008, not those that `tests/bench` reports) 2.6 found 0.975 with 2.9 %
    false alarms, 3.2 to 3.6 found 0.957 with 1.3 to 0.6 %, 4.5 found 0.945 with 0.2 % …"""
    slip_suspect_odds: float = 0.0
    """… judged by a fit without it, which is made when a fit with it has at least these odds, logarithm: with it a
    slipping string has excused itself in part, so that the least that speaks for a slip is enough."""
    slip_cents_per_day: float = 0.35
    """And at least half the tolerance in a week."""
    slip_rate: float = 2.0
    """How fast a slipping string falls, cents a day, standard deviation beforehand; our judgement."""
    slip_jerk: float = 1.0
    """How uneven that fall is, cents, standard deviation over one day, growing as the root of the days; our judgement.
    """
    slip_size_share: float = 1.0
    """For that test a string may creep by this share more or less than its material's average, standard deviation:
    a new one among old ones does."""
    slip_pace: float = 0.25
    """… and by so much faster or slower (logarithm), standard deviation: as materials do, whatever the harp's strings
    make of it, since a slipping one among them must not excuse itself."""
    slip_ordinary: float = 0.85
    """How probable it is beforehand that a string creeps as the harp's others do, and not as freely as that; our
    judgement: few are new."""
    slip_points_n: int = 24
    """Draws of the law over which that is averaged."""
    slips_most_share: float = 0.25
    """If more of the harp than this seems to slip, it is the law that does not fit."""
    retuned_cents: float = 3.0
    """A rise above this and above the intervals is a retuning: creep only falls."""
    retuned_share: float = 0.5
    """A whole harp was retuned if this share of its strings rose."""
    gathered_ratio: float = 1.8
    """A retuning of the whole harp is suspected where strings lie less than so many times as far apart as the gap
    before moved them: so did every one of 84 invented retunings, and one gap in five without (seed 3001) …"""
    suspected_most_n: int = 4
    """… in so many gaps at the most, to spare time …"""
    retuned_odds: float = 4.0
    """… and taken where it has at least these odds, logarithm: exp(4) = 55."""
    weighing_particles_n: int = 64
    """Draws for that; `particles_n` is for the result."""
    repluck_u95_cents: float = 2.2
    """Another pluck, as in `ChangeSettings`."""
    climate_surveys_n: int = 6
    """Surveys with a humidity or temperature from which a dependence is worked out."""
    usual_days: tuple[int, ...] = (1, 2, 4, 7, 14)
    """When to tune new or raised strings until there are data, days after: daily at first, holding after about a
    fortnight, then weekly at least (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RegulationSettings:
    """How far levers or pedals raise their strings (`regulation`)."""

    semitone_cents: float = 100.0
    """Equal temperament."""
    tolerance_cents: float = 5.0
    """A rise within this of the semitone is as it should be; our judgement, as for settling."""
    unraised_cents: float = 40.0
    """A string that rises by less than this was not raised at all; our judgement."""
    settled_cents: float = 20.0
    """A harp whose strings are typically further off than this is not in a state to be regulated; our judgement."""
    worse_decay_ratio: float = 0.6
    """An engaged string that rings this much shorter than it should is pinched or damped; our judgement. A
    semitone's shorter string rings some 5 % shorter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplySettings:
    """The page for a beginner (`reply`)."""

    most_n: int = 5
    """Things to do at a time."""
    most_strings_n: int = 6
    """Strings described one by one."""
    other_octave_cents: float = -600.0
    """Half an octave: a string lower than this may be of another octave, where a display shows the same letter."""
    quiet_db: float = 25.0
    """A pluck less than this above the noise gives no decay (T20 needs 25 dB: ISO 3382-2, via Meissner, Arch. Acoust.
    38 (2013) 47)."""
    near_cents: float = 10.0
    """Strings nearer than this are left alone for now: most amateurs do not notice it (Hill & Summers, JASA 121
    (2007) 2376)."""
    tone_s: float = 2.0
    """A tone to listen to: long enough to hum after, short enough for a page of a megabyte."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PayingSettings:
    """What is said to whoever pays (`paying`). Times are our judgement, to be replaced by the technician's own."""

    minutes_per_string: float = 1.5
    """Tuning one string once."""
    minutes_per_new_string: float = 15.0
    """Fitting and first stretching of one string."""
    minutes_per_visit: float = 20.0
    """Looking the harp over, recording, writing up."""
    sure_share: float = 0.8
    """A string judged dull or false with less probability than this is only perhaps to be bought: our judgement."""
    playable_cents: float = 15.0
    """With half of the strings nearer than this it can be played as it is …"""
    far_cents: float = 50.0
    """… but for single ones further off: half a semitone, nearer to another note than to their own."""
    unplayable_cents: float = _OVERLOADED_CENTS
    """A string this sharp is overloaded …"""
    slack_cents: float = 100.0
    """… and a harp typically this flat has let down its load and is to be looked over before it is played."""
    settles_cents: float = 100.0
    """A string that fell by this much more than the harp's middle one did more than settle (a pin or a knot slips, or
    somebody let it down): the cause is then not determined; our judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlookSettings:
    """What the report says of the days to come (`outlook`)."""

    least_sure_share: float = 0.5
    """With fewer of the strings measured for sure nothing is said on whether the harp may be played: our judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtSettings:
    """Whether another reading of the whole harp is as likely as slackness (`doubts`)."""

    least_strings: int = 12
    """With fewer strings no key stands out."""
    far_cents: float = 400.0
    """Strings further than this from the middle take no part (an octave low, the wrong string)."""
    even_cents: float = 15.0
    """Scatter below which a harp is "in tune with itself"; slack harps scatter by 30 cents and more (measured)."""
    in_tune_cents: float = 8.0
    """Two cents of a reference's own tolerance, and what tuners leave."""
    semitone_cents: float = 15.0
    gone_flat_cents: float = 15.0
    """What a harp in tune with itself may have gone flat besides: all its strings fall alike."""
    most_steps: int = 3
    cap_cents: float = 120.0
    letter_cost: float = 60.0
    """Square cents that each letter set differently costs a rival key: 8 cents, what a harp in tune may scatter."""
    sharp_share: float = 0.1
    """Square cents that a rival key costs for each square cent that it leaves the harp sharp: strings go slack, not
    sharp, so of two keys a semitone apart (G and G-flat) the one that leaves the harp flat is meant."""
    better_share: float = 0.5
    """A rival key must halve the mean square deviation."""
    least_misfit: float = 900.0
    """Below 30 cents of scatter the stated key fits well enough."""
    usual_keys: tuple[str, ...] = ("C", "F", "B-flat", "E-flat", "A-flat")
    """What the open strings of lever harps are tuned to (common practice, no source)."""
    key_close: float = 2.0
    """Natural log of how much likelier the recording is in one key than in another, below which both are named: on
    eight recordings of two harps' notes the right key led the next by 0.9 to 17, all but one by 4 and more."""
    neighbours: int = 4
    raised_cents: float = 22.0
    """A lever raises by 100 cents, give or take its regulation."""
    raised_spread_cents: float = 12.0
    """Only where the neighbours agree (median deviation) does one string out of line mean more than slackness."""
    raised_scatter_cents: float = 20.0
    """… and `raised_share` of all strings lie no further from the harp's smooth line: on slack harps some eight
    neighbours agree by chance, in one of ten that scatter by 40 cents; so in none of 400 at any scatter (simulated)."""
    raised_share: float = 0.75
    same_cents: float = 40.0
    """A string plucked again comes this near to the pitch it had; two strings lie at least a semitone apart."""
    other_layout_n: int = 2
    """Sounds more than the harp has strings that ask for another layout: one may be a sound misheard."""
    other_layout_cents: float = 350.0
    """… where the harp lies so low: one that is nearer to its notes is named rightly, whatever came besides."""
    other_range_cents: float = 250.0
    """… and its sounds reach so much further than its notes: slackness changes along a harp by less."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveySettings:
    """Putting the survey together (`pipeline`)."""

    least_strings: int = 6
    """With fewer clear strings there is no harp to report on."""
    few_share: float = 0.75
    """… unless the person named the first and the last, as of a few strings recorded once more, and this share of what
    was taken for strings is clear: speech stayed below in 17 of 18 synthetic recordings."""
    clear: float = 0.75
    """A string named with this probability is clear; what speech is taken for stays below (measured)."""
    least_usable_s: float = 0.25
    """A pluck heard for less than this counts only where there is no other."""
    sure: float = 0.9
    """Below this probability a string is `uncertain`."""
    tapped: float = 0.9
    """From this expected number of taps in the place of a string that was not heard, it is called missing."""
    far_low_cents: float = -700.0
    """A string this low may be an octave low or the wrong string: to be confirmed by hand before it is turned up."""
    octave_doubt: float = 0.1
    repeat_beyond: float = 1.5
    """Two plucks of a string that differ by this many joint 95 % intervals (with what another pluck changes, see
    `ChangeSettings.repluck_cents`) are remarked on: by chance one pair in 300."""
    clock_u95_cents: float = 0.17
    """The sample clock of a consumer recorder: ±100 parts per million (from memory: quartz oscillators of sound
    chips), the same for every string of a recording."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSettings:
    """Passes, what the harp gives way, purchases and visits (`passes`, `response`, `plan`, `purchases`, `visits`).

    No harp's limits of cents or load per pass are published: all of them are our judgement, on the careful side.
    """

    turn_cents: float = 150.0
    """Most that one turn in one pass raises a string: below the 200 that restringing guides go at once and that
    nothing here may exceed; near pitch `turn_share` allows no more than about 110."""
    lowering_cents: float = 200.0
    """Most that one turn lets a sharp string down; from further up it comes down in two."""
    turn_share: float = 0.12
    """Most tension one pass adds to a string, share of its full tension: a restringing guide's steps of 100 cents
    near pitch add 0.11."""
    total_share: float = 0.10
    """Most load one pass adds to the harp, share of its full load: all strings less than a semitone near pitch, ten
    passes for a harp strung from nothing."""
    load_over_share: float = 0.04
    """What a followed pass may add beyond `total_share`, share of it, by bringing back what fell since the recording:
    on 750 simulated harps (`tests.bench.plans`) at most 0.035."""
    turn_over_cents: float = 10.0
    """The same of one string beyond its own limits, on 500 simulated harps. Leaving such strings where they are until
    the next pass instead costs one pass more on harps that give way most."""
    gentle_factor: float = 0.5
    """All three limits for an old or weak harp, or one with a finding (guides: harps older than 30 years slower)."""
    wire_factor: float = 0.75
    """Both limits of a wire: the little it gives makes each turn of the pin count for more."""
    near_breaking_factor: float = 0.5
    """Both limits of a string that stands close to breaking at pitch."""
    apart_cents: float = 150.0
    """Neighbours get no further apart than this, or than they were: one turn."""
    in_tune_cents: float = 2.5
    """A string this near is left alone: between ± 2, fine tuning, and the ± 3 cents that just pass a
    tuner's examination at A4."""
    touch_cents: float = 1.0
    """In a pass that is made, strings further off than this are set right too: half of what is left alone, or they
    would call for a pass of their own."""
    retune_cents: float = 10.0
    """A pass that moves no string further than this is called a re-tuning: most people hear about this much (Hill &
    Summers, JASA 121 (2007) 2376)."""
    least_turn_cents: float = 5.0
    """On the way up a string this near to the pass's level is left for the next pass: half of what most people hear
    (Hill & Summers, JASA 121 (2007) 2376)."""
    rounds_n: int = 4
    """Most times that a pass goes through the harp, so that it ends at its figures however the harp gives way: a
    restringing guide retunes after two minutes; of a third of each correction (a piano technicians' list, 2006) a
    ninth is left after two times, a hundredth after four."""
    neighbours_n: int = 2
    """A new string is brought level with the middle one of this many to either side: one of them may be far off."""
    install_alone_cents: float = -200.0
    """Where a new string has no neighbour to be brought level with: as far as a restringing guide goes first."""
    first_checkpoint_passes: int = 1
    """Record again after the first pass where it is unknown how the harp gives way: that pass measures it."""
    checkpoint_passes: int = 2
    """Later, record again after this many: with falls of up to a third of each correction (a piano technicians' list,
    2006), a table of three passes is wrong by one."""
    behind_cents: float = 5.0
    """A string that can only just arrive with the others is kept this far above what it needs, for what it stretches
    from one pass to the next; our judgement."""
    ease_cents: float = 50.0
    """New strings are brought this much less far than their neighbours at most, where else a string that can only just
    arrive with the others would have to wait for them; our judgement."""
    fitted_passes_n: int = 2
    """New strings wait for the next pass, where else another would be left behind, only while this many are left: a new
    string stretches most in its first nights; our judgement."""
    unknown_response_cents: float = 350.0
    """While nothing is known of how the harp gives way: a piano's most (technicians' list, 2006), to tell whether the
    strings that wait in a pass would fall by more than is left alone."""
    new_stretch_cents: float = 25.0
    """As is a new string in the pass that fits it: new ones stretch most; our judgement, no law is published."""
    stragglers_n: int = 3
    """Passes that turn no more strings than this are named as theirs alone, so that nobody waits for the whole harp."""
    passes_limit_n: int = 80
    """A plan longer than this is none; −1200 cents gently on a wire take about 35."""
    doubt_confidence: float = 0.95
    """A string less surely recognised is looked at by hand before it is raised."""
    doubt_low_cents: float = 700.0
    """As is one this low: it may be the neighbour, or the wrong string fitted."""

    response_strings_n: int = 4
    """Fewer strings than this say nothing about how the harp gives way: one of four may have slipped."""
    response_left_n: int = 5
    """Strings that the first pass leaves as they fall: they show the fall, the others what strings lose besides. Few,
    because what they fall is lost to the pass (a fortieth of it at 200 cents for the full load)."""
    full_share: float = 0.9
    """Where even the last pass adds more than this of its limit, no string is left as it falls: there is no room to
    make up for it."""
    response_left_cents: float = 60.0
    """What such a string may lose and must still arrive with the others: a tenth of 350 cents, half as much again for
    what is set right meanwhile, and a little."""
    response_load: float = 0.02
    """Least spread of load added after the strings' last turns, share of the full load: against cents of noise. Less
    than this is next to none."""
    response_odd_cents: float = 600.0
    """Cents that strings fall as the harp's full load is added; a piano's 10 to 38 % of the correction (technicians'
    list, 2006) is 90 to 350: more than this is a harp that gives way."""
    response_most_cents: float = 2000.0
    """More than this is no harp that gives way; where the search for the slope begins."""
    response_rounds_n: int = 10
    """Turns are larger by what the strings had fallen, which is known only after the fit: found by halving, to a
    thousandth of where the search begins."""

    rest_days: int = 1
    """Between passes: strings often break, and wood creeps, overnight (common practice, no source)."""
    gentle_rest_days: int = 3
    visit_days_new: tuple[int, ...] = (1, 2, 3, 4, 5, 7, 9, 11, 14, 21, 28)
    """Days after the last pass with new strings: daily at first, holding after about a fortnight, then weekly (common
    practice, no source)."""
    visit_days_slack: tuple[int, ...] = (1, 3, 7, 14, 21)
    """Where strings were only slack: they stretch less (common practice, no source)."""
    visit_days_tuned: tuple[int, ...] = (7, 14)
    """Where next to nothing was raised."""
    slack_raise_cents: float = 50.0
    """Raised by more than this in all, a string needs the settling of a slack one; our judgement."""
    new_string_days: int = 28
    """A string is new for that long: moduli drift over several weeks (Lynch-Aird & Woodhouse, Materials 11 (2018)
    2160)."""
    visit_cents: float = 5.0
    """With a measured drift, the next visit comes when this much is lost; the gaps double up to `visit_most_days`."""
    visit_most_days: int = 7
    visits_measured_n: int = 6

    spare_octave: int = 3
    """Plain strings up to this harp octave are ordered with a spare: thin ones break most (common practice)."""
    set_wires_n: int = 3
    """From this many bass wires on, a set is taken where the price list has one: they age together."""
    prices_limit_bytes: int = 1_000_000
    """Largest price list read; one line a string makes some kB."""
    prices_lines_n: int = 5000
    """Most lines of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneSettings:
    """The tones to tune by (`tones`). All values are chosen by ear and hand; none is measured."""

    rate_hz: int = 22050
    """Plays everywhere; 11 kHz carry three partials of the highest string."""
    partials_n: int = 24
    highest_hz: float = 9000.0
    """No partials above: they would only be bright."""
    pluck_at: float = 0.4
    """Share of the length: what a finger in the middle of the string leaves out and in."""
    decay_low_s: float = 9.0
    """Time to fall by 60 dB at 65 Hz …"""
    decay_low_hz: float = 65.4
    decay_fall: float = 0.35
    """… and the power of frequency by which it shortens: a reference rings longer than a string does."""
    decay_partial: float = 0.5
    """Power of its number by which a partial dies faster."""
    rise_s: float = 0.004
    fade_s: float = 0.05
    peak: float = 0.7
    """Full scale 1."""
    lead_s: float = 1.0
    repeats_n: int = 3
    """Times each tone is heard: once to find the string, twice to turn by."""
    tone_s: float = 3.5
    """From one hearing to the next."""
    rest_s: float = 4.0
    """From the last of a string to the first of the next: time to move the key to the next pin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileSettings:
    """What may be read besides sound (`json_files`), and how results are written (`writing`)."""

    write_at_once_n: int = 8
    """Files written at once. One after another a survey's five are on a disk after 36 to 52 ms, at once after 7."""

    json_limit_bytes: int = 50_000_000
    """Largest JSON file read: a survey of 47 strings makes some hundred kB, a thousand plucks a few MB."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchSettings:
    """Many harps in one run (`intake`, `manifest`, `workers`, `collection`, `triage`)."""

    limit_s: float = 900.0
    """Longest that one instrument may take: a four-hour recording at a fifth of the usual speed."""
    limit_mb: int = 2000
    """Most resident memory for one instrument, megabytes: twice what an hour of sound takes."""
    watch_s: float = 0.02
    watch_most_s: float = 0.25
    grows_mb_per_s: float = 2000.0
    """Between two looks at a worker's memory, least and most; fresh pages come at 1 to 2 MB a ms, so the next look need
    not come before the limit could be reached, and it is passed by some 40 MB at most."""
    lock_wait_s: float = 3600.0
    """Longest wait for another batch that is at work on the same instrument."""
    fetch_limit_bytes: int = 4_000_000_000
    """Largest recording fetched from an address: four hours of stereo WAV at 48 kHz, 24 bit."""
    fetch_block_bytes: int = 1 << 20
    """Fetched at a time."""
    fetch_name_n: int = 60
    """Characters of its name that the copy keeps, the last: names have at most 255 bytes, a character up to four."""
    connect_s: float = 10.0
    """Longest wait for a Dask scheduler to answer."""

    manifest_limit_bytes: int = 5_000_000
    """Largest manifest read: some thousand lines make a few hundred kB."""
    manifest_lines_n: int = 20_000
    """Most lines of it."""
    columns_n: int = 100
    """Most columns of it that are looked at: more than can be right (each is known by name), and enough to say so."""
    folder_files_n: int = 50_000
    """Most files looked at in a folder, recordings or not."""
    cell_n: int = 1000
    """Longest cell, characters: no name, path or note of a harp is longer."""
    slug_n: int = 40
    """Characters of the instrument's name in the name of its results folder, before its fingerprint."""
    key_n: int = 12
    """Hexadecimal digits of that fingerprint: 48 bits, a chance of 2e-9 that two of 1,000 instruments share one (it is
    checked all the same)."""

    measured_share: float = 0.5
    """With fewer of its strings measured for sure, a harp is to be recorded again before anything else; our judgement.
    """
    worn_probability: float = 0.8
    """That at least one string is dull or false, for a harp to be one of worn strings; our judgement."""
    spark_cents: float = 200.0
    """Small charts of a harp reach this far to either side; what is further off stands at the edge."""
    names_n: int = 4
    """Strings or instruments named in a line, the others counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OverviewSettings:
    """The picture of the whole recording (`overview`)."""

    lowest_hz: float = 27.5
    highest_hz: float = 7000.0
    """From below C1 to the second partial of the highest strings."""
    ticks_hz: tuple[float, ...] = (50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
    bins_per_octave: int = 24
    """A quarter-tone to a row: less than the distance of two strings."""
    hop: int = 1024
    """46 ms to a column."""
    range_db: float = 60.0
    most_s: float = 600.0
    """Ten minutes: a picture longer than that is not read."""
    inches_per_s: float = 0.16
    least_inches: float = 8.0
    high_inches: float = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """All sections; the default values are what the command line starts from."""

    recording: RecordingSettings = field(default_factory=RecordingSettings)
    plucks: PluckSettings = field(default_factory=PluckSettings)
    evidence: EvidenceSettings = field(default_factory=EvidenceSettings)
    matching: MatchSettings = field(default_factory=MatchSettings)
    pitch: PitchSettings = field(default_factory=PitchSettings)
    reference: ReferenceSettings = field(default_factory=ReferenceSettings)
    overview: OverviewSettings = field(default_factory=OverviewSettings)
    decay: DecaySettings = field(default_factory=DecaySettings)
    room: RoomSettings = field(default_factory=RoomSettings)
    gain: GainSettings = field(default_factory=GainSettings)
    gate: GateSettings = field(default_factory=GateSettings)
    loss: LossSettings = field(default_factory=LossSettings)
    rattle: RattleSettings = field(default_factory=RattleSettings)
    holding: HoldingSettings = field(default_factory=HoldingSettings)
    falseness: FalseSettings = field(default_factory=FalseSettings)
    condition: ConditionSettings = field(default_factory=ConditionSettings)
    doubts: DoubtSettings = field(default_factory=DoubtSettings)
    survey: SurveySettings = field(default_factory=SurveySettings)
    faint: FaintSettings = field(default_factory=FaintSettings)
    layout: LayoutSettings = field(default_factory=LayoutSettings)
    load: LoadSettings = field(default_factory=LoadSettings)
    report: ReportSettings = field(default_factory=ReportSettings)
    clips: ClipSettings = field(default_factory=ClipSettings)
    changes: ChangeSettings = field(default_factory=ChangeSettings)
    settling: SettlingSettings = field(default_factory=SettlingSettings)
    regulation: RegulationSettings = field(default_factory=RegulationSettings)
    reply: ReplySettings = field(default_factory=ReplySettings)
    paying: PayingSettings = field(default_factory=PayingSettings)
    plan: PlanSettings = field(default_factory=PlanSettings)
    tones: ToneSettings = field(default_factory=ToneSettings)
