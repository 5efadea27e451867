from django.apps import AppConfig


class BrewhygieneConfig(AppConfig):
    name = "brewhygiene"
    label = "brewhygiene"
    verbose_name = "Brewery cleaning programme"

    def ready(self) -> None:
        from django.contrib.auth.signals import user_logged_in
        from django.db.models.signals import post_migrate, pre_migrate

        import brewhygiene.atp.answers
        import brewhygiene.batches.answers
        import brewhygiene.changeovers.answers
        import brewhygiene.plates.answers
        import brewhygiene.regimes.answers
        import brewhygiene.release.answers
        import brewhygiene.turnarounds.answers  # noqa: F401
        from brewhygiene.certificates.cookies import mark_session
        from brewhygiene.ledger.rows.capture import watch
        from brewhygiene.ledger.upkeep import after_migration, before_migration
        from brewhygiene.people.roles import grant_role_permissions

        watch()
        user_logged_in.connect(mark_session)
        pre_migrate.connect(before_migration, sender=self)
        post_migrate.connect(grant_role_permissions, sender=self)
        post_migrate.connect(after_migration, sender=self)
