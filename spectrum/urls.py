"""Addresses of the pages of links, findings, checks, plans and radios, of home and search, and of pages where apps meet."""

from django.urls import path

from spectrum.views import equipment, findings, home, link_entry, links, methods, objects, pairs

urlpatterns = [
    path("", home.Home.as_view(), name="home"),
    path("search/", home.Search.as_view(), name="search"),
    path("links/", links.LinkList.as_view(), name="link-list"),
    path("links/add/", link_entry.LinkAdd.as_view(), name="link-add"),
    path("links/<int:pk>/", links.LinkPage.as_view(), name="link"),
    path("links/<int:pk>/change/", link_entry.LinkChange.as_view(), name="link-change"),
    path("links/<int:pk>/check/", links.LinkCheck.as_view(), name="link-check"),
    path("links/<int:pk>/status/", links.LinkStatus.as_view(), name="link-status"),
    path("links/<int:pk>/pairs/", pairs.LinkPairs.as_view(), name="link-pairs"),
    path("links/<int:pk>/pairs/take/", pairs.LinkPairTake.as_view(), name="link-pair-take"),
    path("links/<int:pk>/pairs/extend/", pairs.LinkPairExtend.as_view(), name="link-pair-extend"),
    path("links/<int:pk>/pairs/release/", pairs.LinkPairRelease.as_view(), name="link-pair-release"),
    path("links/<int:pk>/remove/", links.LinkRemove.as_view(), name="link-remove"),
    path("findings/", findings.FindingList.as_view(), name="finding-list"),
    path("findings/<int:pk>/", findings.FindingPage.as_view(), name="finding"),
    path("findings/<int:pk>/accept/", findings.FindingAccept.as_view(), name="finding-accept"),
    path("findings/<int:pk>/reopen/", findings.FindingReopen.as_view(), name="finding-reopen"),
    path("findings/<int:pk>/sensitivity/", findings.FindingSensitivity.as_view(), name="finding-sensitivity"),
    path("checks/", findings.CheckList.as_view(), name="check-list"),
    path("checks/network/", findings.NetworkCheck.as_view(), name="network-check"),
    path("checks/<int:pk>/", findings.CheckPage.as_view(), name="check"),
    path("channel-plans/", equipment.ChannelPlanList.as_view(), name="channel-plan-list"),
    path("channel-plans/add/", equipment.ChannelPlanAdd.as_view(), name="channel-plan-add"),
    path("channel-plans/<int:pk>/", equipment.ChannelPlanPage.as_view(), name="channel-plan"),
    path("channel-plans/<int:pk>/change/", equipment.ChannelPlanChange.as_view(), name="channel-plan-change"),
    path("channel-plans/<int:pk>/remove/", equipment.ChannelPlanRemove.as_view(), name="channel-plan-remove"),
    path("radio-types/", equipment.RadioTypeList.as_view(), name="radio-type-list"),
    path("radio-types/add/", equipment.RadioTypeAdd.as_view(), name="radio-type-add"),
    path("radio-types/<int:pk>/", equipment.RadioTypePage.as_view(), name="radio-type"),
    path("radio-types/<int:pk>/change/", equipment.RadioTypeChange.as_view(), name="radio-type-change"),
    path("radio-types/<int:pk>/remove/", equipment.RadioTypeRemove.as_view(), name="radio-type-remove"),
    path(
        "radio-types/<int:radio_type_pk>/modes/add/", equipment.RadioModeAdd.as_view(), name="radio-mode-add"
    ),
    path("radio-modes/<int:pk>/change/", equipment.RadioModeChange.as_view(), name="radio-mode-change"),
    path("radio-modes/<int:pk>/remove/", equipment.RadioModeRemove.as_view(), name="radio-mode-remove"),
    path(
        "radio-types/<int:radio_type_pk>/masks/add/", equipment.RadioMaskAdd.as_view(), name="radio-mask-add"
    ),
    path("radio-masks/<int:pk>/change/", equipment.RadioMaskChange.as_view(), name="radio-mask-change"),
    path("radio-masks/<int:pk>/remove/", equipment.RadioMaskRemove.as_view(), name="radio-mask-remove"),
    path("sites/<int:pk>/", objects.SitePage.as_view(), name="site"),
    path("antenna-types/<int:pk>/", objects.AntennaTypePage.as_view(), name="antenna-type"),
    path("licences/<int:pk>/", objects.LicencePage.as_view(), name="licence"),
    path("licensed-channels/<int:pk>/", objects.LicensedChannelPage.as_view(), name="licensed-channel"),
    path("methods/", methods.MethodList.as_view(), name="methods"),
    path("methods/<slug:slug>/", methods.MethodPage.as_view(), name="method"),
    path("holders/<int:pk>/", objects.HolderPage.as_view(), name="holder"),
]
