"""Tables of drives and of a teacher's own minutes."""

from travel.drives.models.drives import DriveFactor, DriveLog
from travel.drives.models.own import OwnDriveTime

__all__ = ["DriveFactor", "DriveLog", "OwnDriveTime"]
