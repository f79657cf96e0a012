"""Static files, named by their content."""

from django.contrib.staticfiles.storage import HashedFilesMixin
from whitenoise.storage import CompressedManifestStaticFilesStorage

ROOMS = ("clinic", "exams", "nutrition", "preventive")  # the libraries' scripts are no modules
# Django has them behind a switch that is for every script or for none
IMPORTS = HashedFilesMixin._js_module_import_aggregation_patterns[1]  # type: ignore[attr-defined]


class StaticFiles(CompressedManifestStaticFilesStorage):  # type: ignore[misc] # it has no types
    """A script's imports are named by content too: a page never runs the modules of two releases together.

    Two modules must not import each other, because then neither could be named before the other.
    """

    patterns = (*HashedFilesMixin.patterns, *((f"{room}/*.js", IMPORTS) for room in ROOMS))
