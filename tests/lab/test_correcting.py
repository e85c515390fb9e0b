"""Corrections and voids: the old value stays, the new one says who, when and why."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sandlab.errors import InputError, NeedsConfirmation, RecordRefused
from sandlab.lab.charting import chart
from sandlab.lab.correcting import correct, remark, void
from sandlab.lab.opening import Lab
from sandlab.lab.rounds import sample, sheet
from tests.lab.conftest import Clock, Log


def texts(lab: Lab, sample_id: str) -> dict[str, str]:
    """Current results of a sample as shown."""
    return {one.property: one.text for one in sample(lab, sample_id).results}


def test_a_correction_keeps_the_old_value_and_derives_again(lab: Lab, log: Log) -> None:
    """Strength mistyped: the bond indices follow the corrected value, the first one stays on record."""
    saved = log(compactability="42", moisture="3.2", green_compression_strength="190")
    before = texts(lab, saved.sample.sample)
    correct(
        lab,
        sample=saved.sample.sample,
        property="green_compression_strength",
        text="160",
        by="AB",
        reason="read the wrong scale",
    )
    after = texts(lab, saved.sample.sample)
    assert after["green_compression_strength"] == "160"
    assert after["working_bond"] < before["working_bond"]
    assert after["moisture"] == before["moisture"]
    history = lab.store.revisions(saved.sample.sample, "green_compression_strength")
    assert history["value"].to_list() == [190.0, 160.0]
    assert history["reason"].to_list() == ["", "read the wrong scale"]
    assert history["by"].to_list() == ["JV", "AB"]
    assert sample(lab, saved.sample.sample).changes == {
        "green_compression_strength": "first 190 by JV; then 160 by AB: read the wrong scale"
    }


def test_a_void_takes_the_derived_results_with_it(lab: Lab, log: Log) -> None:
    """Without compactability there is no working bond; available bond stays."""
    saved = log(compactability="42", moisture="3.2", green_compression_strength="160")
    void(lab, sample=saved.sample.sample, property="compactability", by="AB", reason="tube was dirty")
    after = texts(lab, saved.sample.sample)
    assert "compactability" not in after
    assert "working_bond" not in after
    assert "available_bond" in after
    assert chart(lab, "compactability").points == ()
    assert lab.store.revisions(saved.sample.sample, "compactability")["value"].to_list() == [42.0, None]
    assert sample(lab, saved.sample.sample).changes == {
        "compactability": "first 42 by JV; then void by AB: tube was dirty"
    }


def test_a_late_result_joins_its_sample_without_a_reason(lab: Lab, log: Log) -> None:
    """Methylene blue comes an hour later; it belongs to the sample's own time."""
    saved = log(moisture="3.2")
    correct(lab, sample=saved.sample.sample, property="active_clay", text="8.1", by="JV", reason="")
    (point,) = chart(lab, "active_clay").points
    assert point.at == saved.sample.taken_at
    assert not point.corrected


def test_a_correction_needs_a_reason_and_initials(lab: Lab, log: Log) -> None:
    """Both are told; the value stays."""
    saved = log(moisture="3.2")
    change = {"sample": saved.sample.sample, "property": "moisture", "text": "3.4"}
    with pytest.raises(InputError, match="reason"):
        correct(lab, **change, by="AB", reason=" ")
    with pytest.raises(InputError, match="initials"):
        correct(lab, **change, by="", reason="typo")
    assert texts(lab, saved.sample.sample)["moisture"] == "3.20"


def test_a_doubtful_correction_is_asked_about(lab: Lab, log: Log) -> None:
    """The same rule as for a first value."""
    saved = log(compactability="42")
    change = {"sample": saved.sample.sample, "property": "compactability", "text": "24", "by": "AB"}
    with pytest.raises(NeedsConfirmation):
        correct(lab, **change, reason="typo")
    correct(lab, **change, reason="typo", confirmed=("compactability",))
    assert texts(lab, saved.sample.sample)["compactability"] == "24"


def test_two_corrections_at_once_cannot_both_win_unseen(lab: Lab, log: Log) -> None:
    """Both saw 3.20; the second is refused and told, the first one's value stands."""
    saved = log(moisture="3.2")
    change = {"sample": saved.sample.sample, "property": "moisture", "reason": "typo", "seen": 0}
    correct(lab, **change, text="3.4", by="AB")
    with pytest.raises(RecordRefused):
        correct(lab, **change, text="3.6", by="CD")
    with pytest.raises(RecordRefused):
        void(lab, **change, by="CD")
    assert texts(lab, saved.sample.sample)["moisture"] == "3.40"
    (shown,) = (one for one in sample(lab, saved.sample.sample).results if one.property == "moisture")
    assert shown.revision == 1


def test_unknown_samples_are_told(lab: Lab) -> None:
    """An id that is none says where to look."""
    with pytest.raises(InputError, match="no sample"):
        void(lab, sample="nothing", property="moisture", by="AB", reason="typo")


def test_a_remark_changes_no_value_and_is_told_with_the_sample(lab: Lab, log: Log) -> None:
    saved = log(compactability="42", moisture="3.3").sample
    facts = remark(lab, sample=saved.sample, text="balance drifting", by="JV", property="moisture")
    assert [(one.property, one.text, one.by) for one in facts.comments] == [
        ("moisture", "balance drifting", "JV")
    ]
    assert facts.results == saved.results
    assert sheet(lab).samples[0].comments == facts.comments
    with pytest.raises(InputError) as refused:
        remark(lab, sample=saved.sample, text=" ", by="", property="moistur")
    assert len(refused.value.problems) == 3


def test_a_day_at_a_glance(lab: Lab, log: Log, clock: Clock) -> None:
    """All samples of the plant's day, with who took them and what was not in tolerance."""
    log(compactability="42")
    log(compactability="30", moisture="3.9")
    clock.move(days=1)
    log(compactability="42")
    yesterday = (clock.now - timedelta(days=1)).date()
    facts = sheet(lab, day=yesterday)
    assert len(facts.samples) == 2
    assert facts.words == (
        "Yesterday, Mon 02 Mar 2026: 2 samples by JV; 1 past a reaction limit, 1 doubtful, "
        "1 outside tolerance."
    )
    assert sheet(lab, day=clock.now.date()).words == (
        "Today, Tue 03 Mar 2026: 1 sample by JV; every value in tolerance."
    )
    assert sheet(lab, day=yesterday - timedelta(days=1)).words == "Sun 01 Mar 2026: no sample."
