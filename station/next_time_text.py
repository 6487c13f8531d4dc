"""The advice of a flight in lines of text and in the JSON document. Pure."""

from collections.abc import Sequence

from station.advice import Advice, Topic
from station.advice.against_prediction import Difference
from station.advice.wording import WITH_A_BAR
from station.prediction import Prediction
from station.sentences_in_feet import with_feet

HEADING = f"Next time ({WITH_A_BAR}):"


def next_time_lines(advice: Sequence[Advice]) -> list[str]:
    """What to change, each with its reasons and caution; then in a line each what is worth knowing."""
    if not advice:
        return []
    lines = [HEADING]
    for piece in advice:
        lines.append(f"  {'>' if piece.change else ' '} {with_feet(piece.headline)}")
        if piece.topic is Topic.CHARGES and piece.caution is not None:
            lines.append(f"      ! {piece.caution}")
        # What is only worth knowing is told in a line, but for the figures beside those predicted.
        if piece.change or piece.topic is Topic.PREDICTION:
            lines += [f"      {with_feet(sentence)}" for sentence in piece.reasoning]
        if not piece.change:
            continue
        if piece.source is not None:
            lines.append(f"      [{with_feet(piece.source)}]")
        if piece.caution is not None and piece.topic is not Topic.CHARGES:
            lines.append(f"      ! {with_feet(piece.caution)}")
    return lines


def advice_json(piece: Advice) -> dict[str, object]:
    """One piece; SI, null where there is no figure or nothing to say."""
    return {
        "topic": piece.topic.value,
        "headline": piece.headline,
        "change": piece.change,
        "reasoning": list(piece.reasoning),
        "value": None if piece.value is None else round(piece.value, 4),
        "sigma": None if piece.sigma is None else round(piece.sigma, 4),
        "unit": piece.unit,
        "caution": piece.caution,
        "source": piece.source,
    }


def prediction_json(differences: Sequence[Difference], prediction: Prediction | None) -> dict[str, object] | None:
    """What was predicted and how the flight differed; None where nothing was."""
    if not differences and prediction is None:
        return None
    return {
        "file": None if prediction is None else prediction.file,
        "columns": None if prediction is None else prediction.columns,
        "differences": [
            {
                "name": each.name,
                "flown": round(each.flown, 3),
                "predicted": round(each.predicted, 3),
                "difference": round(each.difference, 3),
                "sigma": round(each.sigma, 3),
                "unit": each.unit,
            }
            for each in differences
        ],
    }
