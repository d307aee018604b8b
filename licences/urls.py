"""Addresses of the pages of authorities, holders, licences and licensed channels."""

from django.urls import path

from licences.views import life, papers, parties, reminder_links, reminders

urlpatterns = [
    path("authorities/", parties.AuthorityList.as_view(), name="authority-list"),
    path("authorities/add/", parties.AuthorityAdd.as_view(), name="authority-add"),
    path("authorities/<int:pk>/", parties.AuthorityPage.as_view(), name="authority"),
    path("authorities/<int:pk>/change/", parties.AuthorityChange.as_view(), name="authority-change"),
    path("authorities/<int:pk>/remove/", parties.AuthorityRemove.as_view(), name="authority-remove"),
    path(
        "authorities/<int:authority_pk>/renewal-policy/add/",
        parties.PolicyAdd.as_view(),
        name="renewal-policy-add",
    ),
    path("renewal-policies/<int:pk>/change/", parties.PolicyChange.as_view(), name="renewal-policy-change"),
    path("renewal-policies/<int:pk>/remove/", parties.PolicyRemove.as_view(), name="renewal-policy-remove"),
    path("holders/", parties.HolderList.as_view(), name="holder-list"),
    path("holders/add/", parties.HolderAdd.as_view(), name="holder-add"),
    path("holders/<int:pk>/change/", parties.HolderChange.as_view(), name="holder-change"),
    path("holders/<int:pk>/remove/", parties.HolderRemove.as_view(), name="holder-remove"),
    path("licences/", papers.LicenceList.as_view(), name="licence-list"),
    path("licences/add/", papers.LicenceAdd.as_view(), name="licence-add"),
    path("licences/<int:pk>/change/", papers.LicenceChange.as_view(), name="licence-change"),
    path("licences/<int:pk>/steps/<slug:step>/", life.LicenceStep.as_view(), name="licence-step"),
    path(
        "licensed-channels/<int:pk>/steps/<slug:step>/",
        life.LicensedChannelStep.as_view(),
        name="licensed-channel-step",
    ),
    path("licences/<int:pk>/remove/", papers.LicenceRemove.as_view(), name="licence-remove"),
    path(
        "licences/<int:licence_pk>/channels/add/",
        papers.LicensedChannelAdd.as_view(),
        name="licensed-channel-add",
    ),
    path("licensed-channels/", papers.LicensedChannelList.as_view(), name="licensed-channel-list"),
    path(
        "licensed-channels/<int:pk>/change/",
        papers.LicensedChannelChange.as_view(),
        name="licensed-channel-change",
    ),
    path(
        "licensed-channels/<int:pk>/remove/",
        papers.LicensedChannelRemove.as_view(),
        name="licensed-channel-remove",
    ),
    path("reminders/", reminders.ReminderList.as_view(), name="reminder-list"),
    path("reminders/<int:pk>/", reminders.ReminderPage.as_view(), name="reminder"),
    path("reminders/settings/", reminders.MySettings.as_view(), name="reminder-settings"),
    path("reminders/settings/calendar/", reminders.CalendarRenew.as_view(), name="reminder-calendar-renew"),
    path(
        "reminders/by-mail/<slug:purpose>/<str:token>/",
        reminder_links.ByMail.as_view(),
        name="reminder-by-mail",
    ),
    path("calendar/<str:token>.ics", reminder_links.CalendarFeed.as_view(), name="reminder-calendar"),
]
