from django.apps import AppConfig


class BrewhygieneConfig(AppConfig):
    name = "brewhygiene"
    label = "brewhygiene"
    verbose_name = "Brewery cleaning programme"

    def ready(self) -> None:
        from django.db.models.signals import post_migrate

        import brewhygiene.atp.answers
        import brewhygiene.plates.answers
        import brewhygiene.turnarounds.answers  # noqa: F401
        from brewhygiene.people.roles import grant_role_permissions

        post_migrate.connect(grant_role_permissions, sender=self)
