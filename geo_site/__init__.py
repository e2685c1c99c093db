"""Sites a recirculating stream on a private lot."""
