"""Where a student is and on whose caseload, by date: moving, leaving, handing over."""
