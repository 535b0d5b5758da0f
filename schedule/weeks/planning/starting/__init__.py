"""Where sessions could begin: by themselves, and together with another teacher's."""
