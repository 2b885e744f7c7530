"""Rows that are written once: the ledger, the trail, agreements, records.

A correction is a further row that names what it corrects. `update`, `delete` and a second `save` are refused here,
for every model that inherits `AppendOnly`, so that no service can forget it.
"""

from typing import Any, NoReturn

from django.db import models


class WrittenOnce(TypeError):
    """Something tried to change or delete a row that is only ever added to."""


class AppendOnlyQuerySet(models.QuerySet):
    def _refuse(self, verb: str) -> NoReturn:
        raise WrittenOnce(f"{self.model.__name__} rows are never {verb}; write a row that reverses instead")

    def update(self, **kwargs: Any) -> NoReturn:
        self._refuse("updated")

    def delete(self) -> NoReturn:
        self._refuse("deleted")

    def bulk_update(self, *args: Any, **kwargs: Any) -> NoReturn:
        self._refuse("updated")

    def bulk_create(self, objs: Any, *args: Any, update_conflicts: bool = False, **kwargs: Any) -> Any:
        if update_conflicts:
            self._refuse("updated")
        return super().bulk_create(objs, *args, **kwargs)


class AppendOnly(models.Model):
    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        abstract = True
        base_manager_name = "objects"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise WrittenOnce(f"{type(self).__name__} {self.pk} is already written; write a row that reverses it")
        # Always an insert: a row made by hand with the key of a written one must not overwrite it.
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise WrittenOnce(f"{type(self).__name__} rows are never deleted; write a row that reverses it")
