"""Tables of mileage: a district's rules and rates, where a teacher's days begin, trips, and vouchers.

Miles and money are decimal. Nothing here names a student.
"""

from travel.mileage.models.rules import SINCE_EVER, AccountCode, MileageRate, MileageSettings, TeacherHome
from travel.mileage.models.trips import READINGS, Trip
from travel.mileage.models.vouchers import STANDING, Voucher, VoucherAnswer, VoucherLine, VoucherStep

__all__ = [
    "READINGS",
    "SINCE_EVER",
    "STANDING",
    "AccountCode",
    "MileageRate",
    "MileageSettings",
    "TeacherHome",
    "Trip",
    "Voucher",
    "VoucherAnswer",
    "VoucherLine",
    "VoucherStep",
]
