"""What the sentences of a draft were made of travels with the draft, and is no part of what is compared."""

from __future__ import annotations

import json
from dataclasses import replace

from sites.sentences import sentence, sentence_of
from spectrum.conflicts.drafts import Draft, Parties
from spectrum.conflicts.evidence import Row
from spectrum.conflicts.wording import kept_words
from spectrum.services.network_run.finishing import digest_of
from spectrum.services.network_run.working import as_json, from_json


def test_a_shard_keeps_what_the_sentences_were_made_of_and_the_digest_leaves_it_out() -> None:
    draft = Draft(
        kind="co_channel",
        severity="must_fix",
        headline=sentence("{station} is {excess:.1f} dB over", station="T-1/A", excess=3.04),
        parties=Parties(link_id=1),
        evidence=[Row(sentence("Part: ducting, {percent:g} % of time", percent=20.0), 1.5, "dB", "sum")],
        not_judged=["No terrain was used.", sentence("{site} has no ground height.", site="HILL")],
    )
    back = from_json(json.loads(json.dumps(as_json(draft))))
    assert back == draft
    assert kept_words(back) == kept_words(draft)
    assert sentence_of(kept_words(back)["headline"]).values == {"station": "T-1/A", "excess": 3.04}
    assert sorted(kept_words(back)["not_judged"]) == ["1"]
    assert sorted(kept_words(back)["evidence"]) == ["0"]
    plain = replace(draft, headline=str(draft.headline), words={})
    assert digest_of([back]) == digest_of([draft]) == digest_of([plain])


def test_a_shard_of_before_has_texts_alone() -> None:
    kept = as_json(Draft(kind="fee_due", severity="decide", headline="Pay", parties=Parties(licence_id=1)))
    del kept["words"]
    assert kept_words(from_json(kept)) == {}
