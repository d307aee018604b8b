"""Words of the pure modules: English by themselves, the person's language once something translates."""

from __future__ import annotations

import subprocess
import sys

from django.utils import translation

from sites import words


def test_without_the_framework_the_words_stay_english() -> None:
    program = (
        "from sites import words; import sys;"
        "print(words.gettext('a site'), words.ngettext('one', 'many', 1), words.ngettext('one', 'many', 0),"
        " 'django' in sys.modules)"
    )
    said = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert said.stdout.split() == ["a", "site", "one", "many", "False"]


def test_in_the_application_they_follow_the_language_of_the_moment() -> None:
    # "January" is in Django's own catalogue (django/conf/locale/de).
    assert words.gettext("January") == "January"
    with translation.override("de"):
        assert words.gettext("January") == "Januar"
    assert words.gettext_noop("January") == "January"
