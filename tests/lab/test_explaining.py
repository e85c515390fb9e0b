"""An old result explained: readings, method, source, the specs in force then, and computed once more."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from sandlab.errors import InputError
from sandlab.lab.correcting import correct
from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.explaining import explain
from sandlab.lab.opening import Lab, open_lab
from tests.lab.conftest import Clock, Log


def oven(lab: Lab) -> str:
    """A sample whose moisture is weighed twice: 50.00 to 48.40 g and 50.00 to 48.36 g."""
    entry = Entry("moisture", method="moisture_oven", readings=(("50.00", "48.40"), ("50.00", "48.36")))
    entries = [entry, Entry("specimen_weight", "153")]
    return record_sample(lab, point="muller_discharge", by="JV", entries=entries).sample.sample


def test_a_result_from_readings_is_computed_again(lab: Lab) -> None:
    """Moisture is the loss over the moist weight: (1.60 + 1.64) / 2 of 50 g = 3.24 % (by hand)."""
    (one,) = explain(lab, oven(lab), "moisture").results
    assert (one.text, one.recomputed_text, one.agrees) == ("3.24", "3.24", True)
    assert [(each.label, each.text, each.repeat) for each in one.inputs] == [
        ("Moist sand", "50.00", 1),
        ("Dry sand", "48.40", 1),
        ("Moist sand", "50.00", 2),
        ("Dry sand", "48.36", 2),
    ]
    assert one.formula == "moisture"
    assert one.source.endswith("test 201: 50 g at 105 +/- 5 C to constant mass")
    assert one.words == (
        "Saved as 3.24 by JV, 08:05; computed from what is kept it is the same again; "
        "the specs in force then are those of today."
    )


def test_a_derived_result_names_what_it_follows_from(lab: Lab) -> None:
    found = {one.property: one for one in explain(lab, oven(lab)).results}
    density = found["bulk_density"]
    assert [(one.label, one.text) for one in density.inputs] == [("Specimen weight", "153.0")]
    assert density.constants == {"diameter_mm": "50.8", "height_mm": "50.8"}
    assert density.agrees is True


def test_the_specs_of_then_count_after_they_changed(lab: Lab, clock: Clock) -> None:
    sample = oven(lab)
    folder: Path = lab.folder
    (folder / "specs").mkdir()
    changed = "[bulk_density.constants]\ndiameter_mm = 50.0\n"
    (folder / "specs" / "methods.toml").write_text(changed, encoding="utf-8")
    later = open_lab(folder, clock=clock)
    (one,) = explain(later, sample, "bulk_density").results
    later.close()
    assert one.constants["diameter_mm"] == "50.8"
    assert one.agrees is True
    assert not one.specs_in_force
    assert "the specs have changed since" in one.words


def test_a_text_kept_in_another_order_says_the_same(lab: Lab, clock: Clock) -> None:
    """As texts were kept once, with sorted keys: another hash, and nothing has changed."""
    sample, text = oven(lab), json.dumps(json.loads(lab.specs.canonical_text), sort_keys=True)
    hash_ = hashlib.sha256(text.encode()).hexdigest()
    earlier = lab.store.samples(lab.system)[0].model_copy(update={"id": lab.new_id(), "specs_hash": hash_})
    lab.store.save([earlier], specs_texts={hash_: text})
    assert {one.id for one in lab.store.samples(lab.system)} == {sample, earlier.id}
    (one,) = explain(lab, earlier.id, "moisture").results
    assert one.specs_hash == hash_ != lab.specs.hash
    assert one.specs_in_force
    assert one.words.endswith("the specs in force then are those of today.")


def test_what_was_typed_as_shown_has_nothing_to_compute(lab: Lab, log: Log) -> None:
    sample = log(compactability="42").sample.sample
    (one,) = explain(lab, sample, "compactability").results
    assert one.agrees is None
    assert "typed as the instrument showed it" in one.words
    correct(lab, sample=sample, property="compactability", text="43", by="AK", reason="misread")
    (one,) = explain(lab, sample, "compactability").results
    assert (one.revision, one.text, one.by) == (1, "43", "AK")


def test_a_wrong_name_is_told_with_the_nearest(lab: Lab, log: Log) -> None:
    sample = log(compactability="42").sample.sample
    with pytest.raises(
        InputError, match="compactibility: has no value in that sample; did you mean 'compact"
    ):
        explain(lab, sample, "compactibility")
