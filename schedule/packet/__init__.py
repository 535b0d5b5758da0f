"""A substitute's packet: all that is needed to stand in for some days, printed or by a link that ends by itself."""
