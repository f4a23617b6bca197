import django.db.models.functions.text
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("stock", "0011_stocktakes"),
    ]

    operations = [
        migrations.AddField(
            model_name="destination",
            name="model_key",
            field=models.GeneratedField(
                db_index=True,
                db_persist=True,
                expression=django.db.models.functions.text.Lower(
                    django.db.models.functions.text.Replace(
                        django.db.models.functions.text.Replace(
                            django.db.models.functions.text.Replace(
                                django.db.models.functions.text.Replace(
                                    django.db.models.functions.text.Replace(
                                        django.db.models.functions.text.Replace(
                                            django.db.models.functions.text.Replace(
                                                django.db.models.functions.text.Replace(
                                                    django.db.models.functions.text.Replace(
                                                        django.db.models.functions.text.Replace(
                                                            django.db.models.functions.text.Replace(
                                                                django.db.models.functions.text.Replace(
                                                                    django.db.models.functions.text.Replace(
                                                                        django.db.models.functions.text.Replace(
                                                                            models.F("model"),
                                                                            models.Value(" "),
                                                                            models.Value(""),
                                                                        ),
                                                                        models.Value("-"),
                                                                        models.Value(""),
                                                                    ),
                                                                    models.Value("."),
                                                                    models.Value(""),
                                                                ),
                                                                models.Value("_"),
                                                                models.Value(""),
                                                            ),
                                                            models.Value("/"),
                                                            models.Value(""),
                                                        ),
                                                        models.Value(","),
                                                        models.Value(""),
                                                    ),
                                                    models.Value(":"),
                                                    models.Value(""),
                                                ),
                                                models.Value("#"),
                                                models.Value(""),
                                            ),
                                            models.Value("*"),
                                            models.Value(""),
                                        ),
                                        models.Value("+"),
                                        models.Value(""),
                                    ),
                                    models.Value("("),
                                    models.Value(""),
                                ),
                                models.Value(")"),
                                models.Value(""),
                            ),
                            models.Value("–"),
                            models.Value(""),
                        ),
                        models.Value("‑"),
                        models.Value(""),
                    )
                ),
                output_field=models.CharField(max_length=100),
            ),
        ),
    ]
