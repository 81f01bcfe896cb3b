"""Causes and histories as JSON documents."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from tension.diagnosis.conditions import MANY_TRIPS
from tension.diagnosis.outcome import Cause, Diagnosis, Telltale
from tension.files.evidence import FileEvidence
from tension.files.results import envelope, number, percent
from tension.history.outcome import History, NextCheck, Track
from tension.notes import Note, Refusal

Document = dict[str, Any]

_UNIT_OF_TELLTALE = {
    Cause.STIFFNESS: "1",
    Cause.BOUND_SPRING: "1",
    Cause.MASS: "1",
    Cause.STAGGER: "m",
}


def causes_document(
    outcome: Diagnosis | Refusal,
    notes: Sequence[Note],
    inputs: Sequence[FileEvidence],
) -> Document:
    """Turn what a pattern suggests into its JSON document.

    Parameters
    ----------
    outcome : Diagnosis or Refusal
        The answer.
    notes : sequence of Note
        What a reader must know.
    inputs : sequence of FileEvidence
        The files it rests on.
    """
    document = envelope("causes", inputs, notes)
    if isinstance(outcome, Refusal):
        return document | {
            "conclusion": "no-result",
            "refusal": {
                "code": outcome.code,
                "text": outcome.text,
                "next_act": outcome.next_act,
            },
        }
    after = outcome.next_measurement
    return document | {
        "conclusion": outcome.conclusion.value,
        "hypotheses": [
            {
                "causes": [cause.value for cause in suspect.causes],
                "weight": number(suspect.weight),
                "ropes": list(suspect.ropes),
            }
            for suspect in outcome.suspects
        ],
        "telltales": [_telltale_document(t) for t in outcome.telltales],
        "next_measurement": None
        if after is None
        else {
            "step": after.step.value,
            "side": after.condition.side.value,
            "rope_passed_m": number(after.condition.rope_passed),
            "arrived": after.condition.arrived,
            "expected_gain_bit": number(after.gain),
            "open_bit": number(after.open_now),
        },
        "ropes": list(outcome.pattern.numbers),
        "newtons_known": outcome.pattern.is_absolute,
        "series": _series_documents(outcome),
    }


def _telltale_document(told: Telltale) -> Document:
    """The number that tells for one cause."""
    return {
        "cause": told.cause.value,
        "rope": told.rope,
        "value": number(told.value),
        "standard_uncertainty": number(told.uncertainty),
        "against": number(told.against),
        "unit": _UNIT_OF_TELLTALE.get(told.cause, "N"),
        "where": told.where,
        "elsewhere": told.elsewhere,
    }


def _series_documents(outcome: Diagnosis) -> list[Document]:
    """Every series with its condition and deviations."""
    pattern = outcome.pattern
    return [
        {
            "name": c.name,
            "side": c.side.value,
            "rope_passed_m": number(c.rope_passed),
            "arrived": c.arrived,
            "weeks": number(c.weeks),
            "epoch": c.epoch,
            "round_trips": None if c.round_trips >= MANY_TRIPS else c.round_trips,
            "mean_tension_n": number(c.mean_tension),
            "deviations_n": [number(d) for d in deviations],
            "deviation_standard_uncertainties_n": [number(u) for u in wide],
        }
        for c, deviations, wide in zip(
            pattern.conditions,
            pattern.deviations.tolist(),
            pattern.uncertainties.tolist(),
            strict=True,
        )
    ]


def history_document(history: History, inputs: Sequence[FileEvidence]) -> Document:
    """Turn the history of a lift into its JSON document."""
    return envelope("history", inputs, history.notes) | {
        "lift": history.lift,
        "rule": {
            "name": history.rule.name,
            "metric": history.rule.metric.value,
            "limit_percent": percent(history.rule.limit),
        },
        "lives": [
            {"number": life.number, "begun": _day(life.begun)} for life in history.lives
        ],
        "tracks": [_track_document(track) for track in history.tracks],
    }


def _track_document(track: Track) -> Document:
    """One life, side and position."""
    return {
        "life": track.life.number,
        "side": track.side.value,
        "position": track.position,
        "load": track.load,
        "points": [
            {
                "date": p.day.isoformat(),
                "record": p.record,
                "series": p.series,
                "role": p.role.value,
                "epoch": p.epoch,
                "verdict": p.verdict.value,
                "spread_percent": percent(p.spread.observed),
                "spread_lower_percent": percent(p.spread.lower),
                "spread_upper_percent": percent(p.spread.upper),
                "ropes": [
                    {
                        "number": s.number,
                        "share_percent": percent(s.share),
                        "share_standard_uncertainty_percent": percent(
                            s.share_uncertainty
                        ),
                    }
                    for s in p.shares
                ],
            }
            for p in track.points
        ],
        "trends": [
            {
                "number": t.number,
                "slope_percent_per_week": percent(t.slope),
                "slope_standard_uncertainty_percent_per_week": percent(t.uncertainty),
                "seen": t.is_seen,
            }
            for t in track.trends
        ],
        "returned": [
            {
                "left": r.left.isoformat(),
                "found": r.found.isoformat(),
                "weeks": number(r.weeks),
                "still_equal_weeks": number(r.still_equal_weeks),
            }
            for r in track.returned
        ],
        "next_check": _check_document(track.next_check),
    }


def _check_document(check: NextCheck | None) -> Document | None:
    """When the limit may be reached."""
    if check is None:
        return None
    return {
        "over_now": check.is_over_now,
        "earliest": _day(check.earliest),
        "likely": _day(check.likely),
        "latest": _day(check.latest),
    }


def _day(day: dt.date | None) -> str | None:
    """A day as written in documents."""
    return None if day is None else day.isoformat()
