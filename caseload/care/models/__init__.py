"""Tables of supports, cautions, contacts and first tries."""

from caseload.care.models.caution import Caution, CautionTag
from caseload.care.models.contact import CareSettings, Contact
from caseload.care.models.seen import CareView
from caseload.care.models.support import Support
from caseload.care.models.trying import Try

__all__ = ["CareSettings", "CareView", "Caution", "CautionTag", "Contact", "Support", "Try"]
