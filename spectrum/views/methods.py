"""Pages on the formulas: the list by topic, and one formula with its source, range and disagreements."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.views.access import Page
from spectrum.methods import method, topics

# The sections that list entries, and what the page calls them.
ENTRY_HEADINGS = (
    ("Parameters", _("What goes in")),
    ("Returns", _("What comes out")),
    ("Raises", _("When it refuses")),
)

# Topics whose figures somebody may act on with body or transmitter.
CAUTIONED = ("At a site", "Power", "Exposure")


class MethodList(Page):
    """Every formula of the register by topic."""

    act = _("reading the methods")

    def get(self, request: HttpRequest) -> HttpResponse:
        found = topics()
        count = sum(len(topic.methods) for topic in found)
        return render(request, "methods.html", {"topics": found, "count": count})


class MethodPage(Page):
    """One formula, from its docstring."""

    act = _("reading a method")

    def get(self, request: HttpRequest, slug: str) -> HttpResponse:
        found = method(slug)
        if found is None:
            raise Http404(
                gettext(
                    "There is no method with the address {slug}; the list of methods names them all."
                ).format(slug=slug)
            )
        context = {
            "method": found,
            "text": found.text,
            "entry_headings": ENTRY_HEADINGS,
            "cautions": found.topic in CAUTIONED,
        }
        return render(request, "method.html", context)
