"""What goes over the wire, as types: the names in them are the promise of the API."""
