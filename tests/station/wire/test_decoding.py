import random
from dataclasses import replace

import pytest

from station.records import (
    ChannelRecord,
    ChannelState,
    FixRecord,
    OtherRecord,
    Record,
    Reject,
    RejectReason,
    Role,
    SampleRecord,
    SignalRecord,
    UnitRecord,
)
from station.wire import crc16, decode_line, encode, noise_before

SAMPLE = SampleRecord(1, 370, 101312.4, 18.62, 9.79)
UNIT = UnitRecord(0, 350, 1, "BRAMBLE-2", 20, Role.DROGUE, Role.MAIN, 152.4)
CHANNELS = ChannelRecord(2904, 61380, 7990, ChannelState.FIRED, 18220, ChannelState.READY, None)
FIX = FixRecord(912, 18260, 48.2081743, -3.50109, 1264.5, 9)
RECORDS: list[Record] = [
    SAMPLE,
    SAMPLE._replace(temperature_c=None, axial_mps2=None),
    SAMPLE._replace(pressure_pa=None, temperature_c=None, axial_mps2=None),
    UNIT,
    replace(UNIT, main_altitude_m=None, channel_1_role=Role.NONE),
    CHANNELS,
    ChannelRecord(0, 0, None, None, None, None, None),
    FIX,
    FixRecord(3, 1005, None, None, None, None),
    SignalRecord(-87.5, 9.25),
    SignalRecord(None, None),
    OtherRecord("TMP", 913, 18280, ("31.5", "")),
    OtherRecord("NEW", None, None, ()),
]


def framed(body: str) -> bytes:
    return f"@{body}*{crc16(body.encode('latin-1')):04X}".encode("latin-1")


def reason_of(body: str) -> RejectReason | Record | None:
    result = decode_line(framed(body))
    return result.reason if isinstance(result, Reject) else result


@pytest.mark.parametrize("record", RECORDS, ids=repr)
def test_a_record_survives_the_wire(record: Record) -> None:
    line = encode(record)
    assert line.endswith(b"\n")
    assert len(line) <= 121
    assert decode_line(line.removesuffix(b"\n")) == record
    assert decode_line(line.removesuffix(b"\n") + b"\r") == record


def test_samples_of_any_value_survive_the_wire_to_the_last_bit() -> None:
    rng = random.Random(11)
    for _ in range(2000):
        sample = SampleRecord(
            rng.randrange(65536),
            rng.randrange(2**32),
            rng.uniform(1_000, 120_000),
            rng.choice([None, rng.uniform(-60, 125)]),
            rng.choice([None, rng.uniform(-5000, 5000), rng.gauss(0, 1e-6)]),
        )
        assert decode_line(encode(sample).removesuffix(b"\n")) == sample


@pytest.mark.parametrize(
    "record",
    [
        SAMPLE._replace(pressure_pa=float("nan")),
        SAMPLE._replace(pressure_pa=200_000.0),
        SAMPLE._replace(seq=65536),
        SAMPLE._replace(axial_mps2=1e-300),
        replace(UNIT, unit_name="two words"),
        replace(UNIT, unit_name="zwölf"),
        OtherRecord("TMP", 1, 2, ("a,b",)),
        OtherRecord("SMP", 1, 2, ("101325", "", "")),
        OtherRecord("TMP", 1, 2, ("x*",)),
        OtherRecord("TMP", 1, 2, ("x" * 120,)),
    ],
    ids=repr,
)
def test_a_record_that_the_wire_cannot_carry_is_refused(record: Record) -> None:
    with pytest.raises(ValueError, match=r"cannot be sent|would be read as something else"):
        encode(record)


@pytest.mark.parametrize("line", [b"", b"\r"])
def test_a_blank_line_is_nothing(line: bytes) -> None:
    assert decode_line(line) is None


@pytest.mark.parametrize("noise", [b"\x00\xff\r", b"12:30:01.250 > ", b"@SMP,4,5@", b"@", b"***"])
def test_noise_before_the_last_start_is_dropped_and_counted(noise: bytes) -> None:
    line = noise + encode(SAMPLE).strip()
    assert decode_line(line) == SAMPLE
    assert noise_before(line) == len(noise)


def test_a_line_without_a_start_is_noise_all_of_it() -> None:
    assert noise_before(b"booting v2\r") == 10
    assert noise_before(b"") == 0
    assert noise_before(encode(SAMPLE).strip()) == 0


def test_fields_of_a_later_version_are_ignored() -> None:
    assert decode_line(framed("SMP,1,370,101312.4,18.62,9.79,new,,fields")) == SAMPLE
    assert decode_line(framed("FIX,912,18260,48.2081743,-3.50109,1264.5,9,0.8")) == FIX


def test_an_unknown_kind_is_kept() -> None:
    assert decode_line(framed("WIND,5,6,3.5")) == OtherRecord("WIND", 5, 6, ("3.5",))


@pytest.mark.parametrize(
    "line",
    [
        b"@SMP,1,370,101312.4,18.62,9.79",
        b"@SMP,1,370,101312.4,18.62,9.79*",
        b"@SMP,1,370,101312.4,18.62,9.79*4A5",
        b"@SMP,1,370,101312.4,18.62,9.79*4a5d",
        b"@SMP,1,370,101312.4,18.62,9.79*4A5D ",
        b"@",
    ],
)
def test_a_frame_without_four_upper_case_digits_has_no_crc(line: bytes) -> None:
    assert decode_line(line) == Reject(RejectReason.NO_CRC, "does not end in * and four digits of 0-9 A-F")


def test_a_changed_digit_is_a_bad_crc_that_says_both() -> None:
    result = decode_line(b"@SMP,1,370,101812.4,18.62,9.79*4A5D")
    assert result == Reject(
        RejectReason.BAD_CRC, f"computed {crc16(b'SMP,1,370,101812.4,18.62,9.79'):04X}, received 4A5D"
    )


def test_the_cap_counts_from_the_start_to_the_crc() -> None:
    body = "SMP,1,370,101312.4,18.62,9.79,"
    fits = framed(body + "x" * (114 - len(body)))
    assert len(fits) == 120
    assert decode_line(b"noise" + fits + b"\r") == SAMPLE
    assert reason_of(body + "x" * (115 - len(body))) is RejectReason.TOO_LONG


@pytest.mark.parametrize("character", ["\x00", "\t", "\x1f", "\x7f", "\x80", "é", "\r"])
def test_only_printable_ascii_is_believed(character: str) -> None:
    assert reason_of(f"TMP,1,2,a{character}b") is RejectReason.BAD_CHARACTER
    assert reason_of(f"SMP,1,2,101325,,,{character}") is RejectReason.BAD_CHARACTER


def test_a_second_star_is_not_believed() -> None:
    assert reason_of("SMP,1,2,101325,,,a*b") is RejectReason.BAD_CHARACTER


@pytest.mark.parametrize(
    "body",
    [
        "", "SMP", "SMP,1", "SMP,1,2", "SMP,1,2,101325,", ",1,2", "TMP,1", "ID,1,2,1,A,20,drogue,main",
        "CHN,1,2,8000,ready,,ready", "FIX,1,2,48,3,100", "RXQ,,,-80", "SMP,,2,101325,,", "SMP,1,,101325,,",
        "ID,1,2,,A,20,drogue,main,", "ID,1,2,1,,20,drogue,main,", "ID,1,2,1,A,,drogue,main,",
        "ID,1,2,1,A,20,,main,", "ID,1,2,1,A,20,drogue,,",
    ],
)  # fmt: skip
def test_a_missing_field_is_named_so(body: str) -> None:
    assert reason_of(body) is RejectReason.MISSING_FIELD


@pytest.mark.parametrize(
    "text", ["1e5", "1_000", " 9", "9 ", "inf", "nan", "-", "+", ".5", "5.", "1.2.3", "0x9", "--1", "9'5"]
)
def test_numbers_are_digits_sign_and_point_alone(text: str) -> None:
    assert reason_of(f"SMP,1,2,101325,{text},") is RejectReason.BAD_FIELD
    assert reason_of(f"FIX,1,2,{text},,,") is RejectReason.BAD_FIELD


@pytest.mark.parametrize("text", ["+9", "-0", "009.50", "9"])
def test_signs_and_leading_zeros_are_numbers(text: str) -> None:
    assert reason_of(f"SMP,1,2,101325,{text},") == SampleRecord(1, 2, 101325.0, float(text), None)


@pytest.mark.parametrize(
    "body",
    [
        "SMP,-1,2,101325,,", "SMP,1.0,2,101325,,", "SMP,+1,2,101325,,", "CHN,1,2,8.1,ready,,ready,",
        "CHN,1,2,8000,READY,,ready,", "CHN,1,2,8000,ready,soon,ready,", "ID,1,2,1,A,20,drogue,both,",
        "ID,1,2,1,ABCDEFGHIJKLMNOPQ,20,drogue,main,", "RXQ,1,,-80,9", "RXQ,,2,-80,9", "TMP,x,2",
    ],
)  # fmt: skip
def test_a_field_of_the_wrong_form_is_a_bad_field(body: str) -> None:
    assert reason_of(body) is RejectReason.BAD_FIELD


@pytest.mark.parametrize(
    ("within", "beyond"),
    [
        ("SMP,65535,0,101325,,", "SMP,65536,0,101325,,"),
        ("SMP,0,4294967295,101325,,", "SMP,0,4294967296,101325,,"),
        ("SMP,1,2,1000,,", "SMP,1,2,999.9,,"),
        ("SMP,1,2,120000,,", "SMP,1,2,120000.1,,"),
        ("SMP,1,2,101325,-60,", "SMP,1,2,101325,-60.1,"),
        ("SMP,1,2,101325,125,", "SMP,1,2,101325,125.1,"),
        ("SMP,1,2,101325,,-5000", "SMP,1,2,101325,,-5000.1"),
        ("SMP,1,2,101325,,5000", "SMP,1,2,101325,,99999999999999999999"),
        ("ID,1,2,255,A,20,none,none,", "ID,1,2,0,A,20,none,none,"),
        ("ID,1,2,1,A,1,none,none,", "ID,1,2,1,A,0,none,none,"),
        ("ID,1,2,1,A,20,none,none,20000", "ID,1,2,1,A,20,none,none,-1"),
        ("CHN,1,2,60000,ready,,ready,", "CHN,1,2,60001,ready,,ready,"),
        ("CHN,1,2,8000,fired,4294967295,ready,", "CHN,1,2,8000,fired,4294967296,ready,"),
        ("FIX,1,2,-90,180,,", "FIX,1,2,-90.0001,180,,"),
        ("FIX,1,2,90,-180,,", "FIX,1,2,90,-180.0001,,"),
        ("FIX,1,2,,,-1000,255", "FIX,1,2,,,-1000.1,255"),
        ("FIX,1,2,,,100000,0", "FIX,1,2,,,,256"),
        ("RXQ,,,-200,100", "RXQ,,,-200.1,100"),
        ("RXQ,,,60,-100", "RXQ,,,60,-100.1"),
        ("TMP,65535,2", "TMP,65536,2"),
    ],
)
def test_bounds_are_part_of_the_range_and_nothing_beyond_is(within: str, beyond: str) -> None:
    assert not isinstance(decode_line(framed(within)), Reject)
    assert reason_of(beyond) is RejectReason.OUT_OF_RANGE


def test_the_short_way_for_samples_agrees_with_the_careful_way() -> None:
    # A space in front makes the line miss the short way; noise is dropped, so the result must be the same.
    rng = random.Random(5)
    texts = [
        "",
        "0",
        "1",
        "65535",
        "65536",
        "101325.25",
        "-4.5",
        "5001",
        "+9.81",
        "1e3",
        "nan",
        " 1",
        "00001",
        "1000000",
    ]
    for _ in range(5000):
        line = framed(",".join(["SMP", *(rng.choice(texts) for _ in range(rng.randrange(3, 8)))]))
        assert decode_line(line) == decode_line(b" " + line)


def test_no_bytes_whatever_raise() -> None:
    rng = random.Random(17)
    whole = [encode(record).strip() for record in RECORDS]
    for round_ in range(20000):
        line = bytearray(rng.choice(whole))
        for _ in range(rng.randrange(1, 4)):
            place = rng.randrange(len(line))
            match rng.randrange(3):
                case 0:
                    line[place] = rng.randrange(256)
                case 1:
                    del line[place:]
                    line += b"@"
                case _:
                    line[place:place] = rng.choice([b",", b"@", b"*", b"\r", b"-", rng.randbytes(3)])
        if round_ % 2:
            # Make the CRC good again, so that the damage gets past it.
            start, body = line.rfind(b"@"), bytes(line[line.rfind(b"@") + 1 :]).split(b"*")[0]
            line[start:] = b"@%s*%04X" % (body, crc16(body))
        result = decode_line(bytes(line))
        assert result is None or isinstance(result, Record | Reject)
        noise_before(bytes(line))


def test_no_random_bytes_pass_for_a_record() -> None:
    rng = random.Random(23)
    for _ in range(5000):
        assert isinstance(decode_line(b"@" + rng.randbytes(rng.randrange(0, 200))), Reject)
