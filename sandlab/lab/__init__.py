"""The verbs of the lab: record, correct, chart, advise, release, acknowledge, import."""
