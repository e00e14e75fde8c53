"""Every printed booklet of a course has a number, and numbers of its own among the markers."""

from typing import Any

from django.db import migrations, models

from sidelong.training.sheet_code import booklet_keys


def number_booklets(apps: Any, schema_editor: Any) -> None:
    """Give booklets that were made before the numbers that they were printed with."""
    n_of_course: dict[int, int] = {}
    rows = apps.get_model("trainees", "BookletRow").objects.select_related("plan__course")
    for row in rows.order_by("pk"):
        course, version = row.plan.course, row.plan.version
        n_of_course[course.pk] = row.number = n_of_course.get(course.pk, 0) + 1
        pages = [(f"{course.trainee_id}{page}", course.number, version) for page in ("", "/2")]
        row.key, row.second_key = booklet_keys(pages)
        # Their sheets do not say which booklet they are of: every one was printed as the first.
        row.printed_number = 1
        row.save()


class Migration(migrations.Migration):
    """See the module."""

    dependencies = (("trainees", "0002_way"),)

    operations = (
        migrations.AddField(
            model_name="bookletrow",
            name="number",
            field=models.PositiveSmallIntegerField(
                default=1, verbose_name="which one of its course, from 1"
            ),
        ),
        migrations.AddField(
            model_name="bookletrow",
            name="printed_number",
            field=models.PositiveSmallIntegerField(
                default=1, verbose_name="the number that its sheets say"
            ),
        ),
        migrations.AddField(
            model_name="bookletrow",
            name="key",
            field=models.PositiveSmallIntegerField(
                default=0, verbose_name="number among the markers"
            ),
        ),
        migrations.AddField(
            model_name="bookletrow",
            name="second_key",
            field=models.PositiveSmallIntegerField(
                default=0, verbose_name="number among the markers of second pages"
            ),
        ),
        migrations.AddField(
            model_name="bookletrow",
            name="audience",
            field=models.CharField(
                blank=True, max_length=10, verbose_name="for whom it speaks; empty: by age band"
            ),
        ),
        migrations.AddField(
            model_name="bookletrow",
            name="edition",
            field=models.CharField(
                default="standard", max_length=10, verbose_name="how large it is set"
            ),
        ),
        migrations.RunPython(number_booklets, migrations.RunPython.noop),
    )
