"""Signing in at a provider of the district's own (OpenID Connect), as the settings of the server say."""
