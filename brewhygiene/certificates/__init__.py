"""TLS in the building: an authority and a certificate of the installation's own."""
