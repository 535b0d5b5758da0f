"""Whom to call or write about a class or a student."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q

from accounts.models import District, DistrictRow, Person, ScopedQuerySet
from caseload.plans.models import SchoolClass, Student


class CareSettings(DistrictRow):
    """What a district decided about contacts. Without a row parents aren't kept here."""

    keeps_parents = models.BooleanField(
        default=False, help_text="Whether teachers may keep parents and guardians among a student's contacts here."
    )

    objects = ScopedQuerySet["CareSettings"].as_manager()

    class Meta:
        verbose_name_plural = "care settings"
        constraints = [models.UniqueConstraint(fields=["district"], name="care_settings_once")]

    def __str__(self) -> str:
        return f"Contacts in {self.district}"


class ContactQuerySet(ScopedQuerySet["Contact"]):
    """Scoped through the student or the class."""

    def visible_to(self, viewer: object) -> "ContactQuerySet":
        """Contacts of students and classes whom the viewer may see; a school office keeps its own lists."""
        if not isinstance(viewer, Person) or not viewer.has_perm("caseload.view"):
            return self.none()
        return self.filter(
            Q(student__in=Student.objects.visible_to(viewer))
            | Q(school_class__in=SchoolClass.objects.visible_to(viewer))
        )


class Contact(models.Model):
    """A person about a class or about one student. When an aide is there is schedule's part (schedule.aides)."""

    class Role(models.TextChoices):
        """What the person is there for."""

        TEACHER = "teacher", "Classroom teacher"
        AIDE = "aide", "Aide"
        NURSE = "nurse", "School nurse"
        CASE_MANAGER = "case_manager", "Case manager"
        PT = "pt", "Physical therapist"
        OT = "ot", "Occupational therapist"
        SPEECH = "speech", "Speech therapist"
        PARENT = "parent", "Parent or guardian"
        OTHER = "other", "Other"

    student = models.ForeignKey(Student, on_delete=models.CASCADE, null=True, blank=True, related_name="contacts")
    school_class = models.ForeignKey(
        SchoolClass, on_delete=models.CASCADE, null=True, blank=True, related_name="contacts", verbose_name="class"
    )
    role = models.CharField(max_length=12, choices=Role)
    name = models.CharField(max_length=80)
    phone = models.CharField(max_length=40, blank=True, help_text="With the extension, if there is one.")
    email = models.EmailField(blank=True)
    note = models.CharField(max_length=200, blank=True, help_text="Such as when to call.")

    objects = ContactQuerySet.as_manager()

    class Meta:
        ordering = ["role", "name", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(student__isnull=True) ^ Q(school_class__isnull=True),
                name="contact_of_student_or_class",
                violation_error_message="A contact belongs to a student or to a class, not to both.",
            ),
            models.CheckConstraint(
                condition=~Q(role="parent") | Q(school_class__isnull=True),
                name="contact_parent_of_student",
                violation_error_message="A parent is a contact of a student, not of a class.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_role_display()} of {self.student or self.school_class}"

    @property
    def district(self) -> District:
        """The district of the student or of the class."""
        about = self.student or self.school_class
        if about is None:
            message = "a contact of nobody has no district"
            raise TypeError(message)
        return about.district

    def clean(self) -> None:
        """Ask for one way to reach the person."""
        if not (self.phone.strip() or self.email):
            raise ValidationError({"phone": "Give a phone number or an email address."}, code="unreachable")
