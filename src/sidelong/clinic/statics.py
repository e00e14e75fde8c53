"""Style sheets and scripts under names that hold a hash of their content."""

from typing import Any

from django.contrib.staticfiles.storage import ManifestStaticFilesStorage


class HashedFiles(ManifestStaticFilesStorage):
    """Names in scripts that import one another are rewritten too: else an old part would stay."""

    support_js_module_import_aggregation = True

    def url_converter(self, name: str, *args: Any, **kwargs: Any) -> Any:
        """Leave the htmx library as it is: comments in it look like imports and name no file.

        Returns
        -------
        callable
            Gives the text that takes the place of a matched one.
        """
        if name.startswith("django_htmx"):
            return lambda found: found["matched"]
        return super().url_converter(name, *args, **kwargs)
