"""Reports of minutes: `people` has a student's and a teacher's, `places` a building's and the district's.

Every number comes from the ledgers.
"""
