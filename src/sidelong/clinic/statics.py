"""Style sheets and scripts under names that hold a hash of their content."""

from django.contrib.staticfiles.storage import ManifestStaticFilesStorage


class HashedFiles(ManifestStaticFilesStorage):
    """Names in scripts that import one another are rewritten too: else an old part would stay."""

    support_js_module_import_aggregation = True
