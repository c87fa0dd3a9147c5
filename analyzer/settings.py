"""Every threshold of the program in one place: its value, its unit, and why it is that.

`Settings` is made of one frozen section a stage. A stage receives its section and has no bare numbers of its own
but mathematical ones. Where a reason reads "measured", `tests/bench/` holds the command that measures it again.
"""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingSettings:
    """Decoding and the check-up of the recording (`recording`)."""

    rate_hz: int = 22050
    """Sampling rate of the analysis. The highest harp string is G7 = 3136 Hz; its third partial still fits below
    the 11 kHz that this rate carries, and a third of the usual 44.1 kHz work is saved."""
    block_n: int = 65536
    """Frames decoded at once: 1.5 s at 44.1 kHz, half a megabyte in stereo."""
    in_memory_s: float = 1200.0
    """Longer recordings are kept in a temporary file: 20 minutes are 106 MB, four times a usual survey."""
    lowest_rate_hz: int = 8000
    highest_rate_hz: int = 192000
    """Rates outside are headers that lie, or telephony too poor to measure; 192 kHz is the most that recorders offer."""
    most_channels: int = 8
    """7.1 surround is the most that a phone or a field recorder makes."""
    longest_s: float = 4 * 3600.0
    """Bound on what one file may unpack to: no harp takes four hours."""
    hole_s: float = 0.03
    """Frames that come this much later than they should follow lost packets; webm's clock ticks in ms, and one
    packet of most codecs is 20 ms or more."""
    cut_short_s: float = 0.5
    """A stream this much shorter than its header says was cut off; rounding and priming stay under 0.1 s."""
    silent_db: float = -80.0
    """A recording whose highest sample is below this holds no harp: 16-bit dither peaks at about -85 dB."""

    glimpse_s: float = 0.25
    glimpse_step_s: float = 1.0
    """Channels are compared on a quarter of the recording, a glimpse a second: at least one for each string."""
    loud_percentile: float = 95.0
    """A channel's sound: the level that 1 glimpse in 20 exceeds."""
    quiet_percentile: float = 10.0
    """A channel's noise: the level that 9 glimpses in 10 exceed."""
    dead_channel_db: float = -30.0
    """A channel this far under the loudest one is dead (crosstalk and hiss); a stereo pair differs by 10 dB at most."""
    least_channel_noise_db: float = -90.0
    """Noise below 16-bit dither is not told apart, so that digital silence does not outweigh everything."""
    cancel_db: float = -3.0
    """A glimpse whose sum falls this far below what unrelated channels would give is partly cancelled."""
    most_cancelled: float = 0.05
    """Share of sounding glimpses that may be so before one channel is used alone: one string in twenty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PluckSettings:
    """Finding where strings begin to sound (`plucks`)."""

    window: int = 1024
    """Samples a spectrum spans: 46 ms, about the length of an attack, still two bands to a bass partial's spacing."""
    hop: int = 256
    """Samples between spectra: 12 ms."""
    block_frames: int = 4096
    """Spectra held at once: 48 s, about 17 MB."""
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
    least_rise_db: float = 0.9
    """Least mean rise over all bands. Noise alone stays below 0.1; the softest plucks of the recordings at hand reach
    1.7. What passes wrongly is refused later as no string, what is refused here is lost: hence low."""
    apart_s: float = 0.16
    """Events closer than this are one: the touch of the finger and the release lie 20 to 150 ms apart; the fastest
    plucking that is still one string after another is some 0.25 s."""
    settle_s: float = 0.06
    """How far the exact onset may lie from the frame's centre."""
    step: int = 64
    """Samples to a step of the fine search: 3 ms."""
    step_past: int = 4
    """Steps whose mean is "before" in the fine search: 12 ms."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutSettings:
    """What a layout file and a tuning may say (`layout`, `tuning`)."""

    file_limit_bytes: int = 1_000_000
    """Largest layout file read; a 47-string one has 4 kB, so a larger file is something else."""
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
    least_above_db: float = 8.0
    """A noise peak stands 8 dB above its own median in about 1 of 100 bins."""
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
    tolerance_share: float = 0.016
    """10 cents: partials of real strings scatter by a few cents about the stiff-string law."""
    expected_partials: int = 8
    """Partials whose absence counts against a candidate."""
    present_db: float = 15.0
    """Prominence from which a partial counts as wholly there."""
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
    sudden_db: float = 9.0
    sudden_scale_db: float = 2.5
    """A pluck rises 11 dB within 20 ms even among ringing strings; syllables mostly under 7 (measured on recordings)."""
    harmonic_score: float = 0.85
    harmonic_scale: float = 0.12
    """Strings score 0.9 to 1.7, knocks under 0.7 (measured on recordings)."""
    steady_bins: float = 1.0
    steady_scale: float = 0.4
    """Partials of a string stay within half a resolution width, a voice and a knock move by more."""
    hint_limit: float = 4.0
    """Each hint is bounded at e^4 = 55 to one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportSettings:
    """What the sentences, tables and charts call near, far and off the scale (`digest`, `words`, `figures`)."""

    in_tune_cents: float = 5.0
    """A string nearer than this to its note is counted as in tune; our judgement: about half of the 10 cents at
    which most amateurs notice an interval (Hill & Summers, JASA 121 (2007) 2376)."""

    octave_window_cents: float = 150.0
    """A string this near to −1200 cents is spoken of as an octave low; our judgement: wider than the slackness
    that a string of another octave would share with its neighbours, narrower than two semitones."""

    region_margin: float = 1.25
    """A third of the harp is called the worst when its median is this many times the next one's; our judgement."""

    scale_cents: float = 650.0
    """Strings further off than this are drawn in a lane of their own, so that the others stay readable, unless
    `scale_share` of the harp is as far off; our judgement: past half an octave, the amount matters little."""

    scale_share: float = 0.8
    """Share of the strings that is always drawn to scale; our judgement."""

    least_span_cents: float = 60.0
    """The deviation chart reaches at least this far to either side, so that a harp in tune looks it."""

    least_confidence: float = 0.95
    """Readings of a string less probable than this are named in the summary; the usual 95 %."""

    names_n: int = 6
    """The summary names up to this many strings, and counts them beyond; our judgement."""

    title_n: int = 90
    """Longest title shown as a heading, characters; what is longer is cut there and shown whole under method."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """All sections; the default values are what the command line starts from."""

    recording: RecordingSettings = field(default_factory=RecordingSettings)
    plucks: PluckSettings = field(default_factory=PluckSettings)
    evidence: EvidenceSettings = field(default_factory=EvidenceSettings)
    layout: LayoutSettings = field(default_factory=LayoutSettings)
    report: ReportSettings = field(default_factory=ReportSettings)
