"""A migration whose operations all see its end: tables made whole, and what is added to others."""

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import ProjectState


class MadeAtOnce(migrations.Migration):
    """For `CreateModel` operations with whole tables, and fields, constraints and triggers of other tables.

    Django renders the models anew for every operation, and one that is tied to all the others takes all of
    them along: with as many tables as here that is most of a minute at a first start. Here every operation
    sees the state after the last one, which is rendered once; so none may alter what another one makes.
    """

    def apply(
        self, project_state: ProjectState, schema_editor: BaseDatabaseSchemaEditor, collect_sql: bool = False
    ) -> ProjectState:
        before = project_state.clone()
        project_state.__dict__.pop("apps", None)  # nothing is rendered until all is known
        for operation in self.operations:
            operation.state_forwards(self.app_label, project_state)
        for operation in self.operations:
            operation.database_forwards(self.app_label, schema_editor, before, project_state)
        return project_state
