"""Who serves whom: proposals for a district's students and teachers, changed by hand, taken over from a day on."""
