"""What other teachers hold of students, classes and spaces, in force or in a draft, and what meets it."""
