"""Users and what they put their name to."""

from typing import ClassVar

from django.contrib.auth.models import AbstractUser, UserManager
from django.db import models

from brewhygiene.ledger.places import Evidence, Rebuildable, SetUp
from brewhygiene.quantities.style import DATES, DECIMALS


class User(SetUp, AbstractUser):
    """A person of the brewery. Roles are groups; see :mod:`brewhygiene.people.roles`."""

    # No secret is ever bound, not even hashed; signing in is no act of the brewery's.
    unbound = frozenset({"password", "pin_hash", "last_login"})

    full_name = models.CharField(max_length=120, blank=True)
    initials = models.CharField(max_length=6, blank=True)
    pin_hash = models.CharField(
        max_length=128, blank=True, help_text="For changing hands on a shared tablet."
    )

    password_set_by = models.CharField(
        max_length=150,
        blank=True,
        help_text="Who gave the password, until its owner chooses one; it signs nothing so long.",
    )
    own_role_reason = models.CharField(
        max_length=200,
        blank=True,
        help_text="Why this person gave themselves a role that signs; it stays.",
    )

    decimal_sign = models.CharField(
        max_length=1, blank=True, choices=list(DECIMALS.items()), help_text="'': the brewery's."
    )
    date_style = models.CharField(
        max_length=12, blank=True, choices=list(DATES.items()), help_text="'': the brewery's."
    )

    objects: ClassVar = UserManager()  # type: ignore[assignment]

    class Meta(AbstractUser.Meta):
        permissions = [
            ("work_cellar", "Empty, clean, sample and read in the cellar"),
            ("fill_vessel", "Fill a released vessel"),
            ("decide_release", "Hold or release a vessel"),
            ("record_irregular_fill", "Record a fill that happened without a release"),
            ("approve_limits", "Approve the limits of a meter"),
            ("read_plates", "Record what grew on a plate"),
            ("edit_setup", "Edit vessels, beers, agents, regimes, meters and ATP tests"),
            ("manage_people", "Add people and give them roles"),
            ("see_everything", "See every record, decision and figure"),
        ]

    def __str__(self) -> str:
        return self.display_name

    @property
    def display_name(self) -> str:
        return self.full_name or self.username

    @property
    def pseudonym(self) -> str:
        """What the ledger calls this person; who that is stands in this table alone."""
        return f"person {self.pk}"

    @property
    def short_name(self) -> str:
        return self.initials or self.display_name[:2].upper()


class PinWait(Rebuildable):
    """Wrong PINs of one person on one tablet in a row, and until when the next one waits."""

    person = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    tablet = models.CharField(max_length=64)
    failures = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField(null=True, blank=True)
    until = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "tablet"], name="one_wait_per_tablet")
        ]

    def __str__(self) -> str:
        return f"{self.person} on {self.tablet}: {self.failures}"


class Tablet(SetUp):
    """A tablet of the brewery's floor, enrolled on itself; ``mark`` is what its cookie says."""

    name = models.CharField(max_length=40)
    mark = models.CharField(max_length=64, unique=True)
    enrolled_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    enrolled_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["name"],
                condition=models.Q(retired_at__isnull=True),
                name="one_tablet_of_a_name",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Signature(Evidence):
    """A person's name under a statement, given with the password at that moment."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="signatures")
    printed_name = models.CharField(max_length=120)
    meaning = models.CharField(max_length=200, help_text="What the signature says.")
    signed_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.printed_name}: {self.meaning}"
