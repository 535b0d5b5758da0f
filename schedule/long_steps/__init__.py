"""Steps that write the records of hundreds of students: asked for with one press, done whole in the background."""
