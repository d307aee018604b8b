"""The licence pack of a site: the page, and the PDF to be kept at the mast."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.text import slugify
from django.utils.translation import gettext_lazy as _

from sites.models import Site
from sites.reading import day_here, neutral
from sites.views.access import Page
from spectrum.site_pack import Pack, site_pack
from spectrum.site_pack.pack import CAUTIONS
from spectrum.site_pack.pdf import pack_pdf


class SitePackPage(Page):
    needs = "places.view_site"
    act = _("reading the licence pack of a site")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        return render(request, "site_pack.html", {"pack": self.pack(request, pk), "cautions": CAUTIONS})

    @staticmethod
    def pack(request: HttpRequest, pk: int) -> Pack:
        site = get_object_or_404(Site, pk=pk)
        return site_pack(site, day_here(), documents=request.user.has_perm("places.view_document"))


class SitePackPdf(SitePackPage):
    act = _("printing the licence pack of a site")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        with neutral():  # a sheet means the same whoever printed it
            pack = self.pack(request, pk)
            name = f"{slugify(pack.site.code) or pack.site.pk}-licence-pack-{pack.made_on}.pdf"
            printed = pack_pdf(pack)
        return HttpResponse(
            printed,
            content_type="application/pdf",
            headers={"Content-Disposition": f'inline; filename="{name}"'},
        )
