"""Which services of a student are given together."""

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.models import District, Person, ScopedQuerySet
from caseload.plans.models import ContinuingService, Student


class JointServiceQuerySet(ScopedQuerySet["JointService"]):
    """Scoped through the student."""

    def visible_to(self, viewer: object) -> "JointServiceQuerySet":
        """Those of the students whom the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(service__student__in=Student.objects.visible_to(viewer))


class JointService(models.Model):
    """Sessions of two services of one student that their teachers give together, from a first day on.

    Both weeks hold such a session at the same time, for the same minutes, in the same place. The services go on
    while their terms change, and so does this.
    """

    service = models.ForeignKey(ContinuingService, on_delete=models.CASCADE, related_name="joint_services")
    partner = models.ForeignKey(
        ContinuingService,
        on_delete=models.CASCADE,
        related_name="joint_partners",
        verbose_name="together with",
        help_text="A service of the same student that another teacher gives.",
    )
    times_a_week = models.PositiveSmallIntegerField(
        "sessions a week",
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(20)],
        help_text="How many are given together. Empty: each that both have.",
    )
    first_day = models.DateField("from")
    last_day = models.DateField("until", null=True, blank=True, help_text="Empty: until further notice.")

    objects = JointServiceQuerySet.as_manager()

    class Meta:
        verbose_name = "joint session"
        verbose_name_plural = "joint sessions"
        ordering = ["service", "first_day", "id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(service=F("partner")),
                name="joint_service_with_another",
                violation_error_message="Choose the other teacher's service.",
            ),
            models.CheckConstraint(
                condition=Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="joint_service_ends_after_start",
                violation_error_message="The last day is before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"Joint sessions from {self.first_day}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.service.district

    def clean(self) -> None:
        """Both services are the same student's."""
        if self.partner_id and self.service_id and self.partner.student_id != self.service.student_id:
            raise ValidationError({"partner": "Choose a service of the same student."}, code="other_student")
