"""The databases of the tests: one is migrated and the others are copies; and empty after a test that commits."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth.models import Permission
from django.core import management
from django.db import DatabaseError, connection, connections

from sites.models import ChangeRecord
from tests import databases
from tests.made import Register, site

#: What migrations write into an empty database.
MIGRATED = {"auth_group", "auth_group_permissions", "auth_permission", "django_content_type"}


@pytest.mark.django_db(transaction=True)
def test_it_is_emptied_of_rows_that_refer_to_one_another_and_of_the_change_record() -> None:
    assert set(databases.tables_with_rows(connection)) == MIGRATED
    Register().link("L-1", site("S1"), site("S2", 47.2))
    assert ChangeRecord.objects.exists()
    assert len(databases.tables_with_rows(connection)) > 12
    permissions = Permission.objects.count()

    databases.empty(connection)

    assert set(databases.tables_with_rows(connection)) == MIGRATED
    assert Permission.objects.count() == permissions > 100
    Register().link("L-1", site("S1"), site("S2", 47.2))
    with pytest.raises(DatabaseError, match="neither edited nor deleted"):
        ChangeRecord.objects.all().delete()


def test_the_second_worker_begins_with_what_the_first_one_migrated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, django_db_blocker: Any
) -> None:
    found: list[list[str]] = []

    def migrate(command: str, *, database: str, **options: Any) -> None:
        if command == "migrate":
            found.append(connections[database].introspection.table_names())
            with connections[database].cursor() as cursor:
                cursor.execute("CREATE TABLE IF NOT EXISTS migrated (n integer)")

    monkeypatch.setattr(management, "call_command", migrate)
    models = []
    for worker in ("first", "second"):
        values = {**connection.settings_dict, "NAME": f"{tmp_path.name}-{worker}"}
        values["TEST"] = {**values["TEST"], "NAME": f"{tmp_path.name}-{worker}", "TEMPLATE": None}
        if connection.vendor == "sqlite":
            values["TEST"]["NAME"] = tmp_path / worker
        monkeypatch.setitem(settings.DATABASES, worker, values)
        monkeypatch.setitem(connections.settings, worker, values)
        models.append(databases.Model(connections[worker], tmp_path))
    with django_db_blocker.unblock():
        for model in models:
            name = model.create(verbosity=0, autoclobber=True, serialize=False)
            assert name == model.connection.settings_dict["NAME"]
        for model in models:
            model.creation.destroy_test_db("", verbosity=0)
            model.remove()
    assert found == [[], ["migrated"]]
    assert not (tmp_path / "migrated").exists()
