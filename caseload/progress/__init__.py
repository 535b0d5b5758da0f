"""Goals of students' plans, the data taken on them, and what the data say."""
