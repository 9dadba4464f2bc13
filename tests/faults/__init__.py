"""What goes wrong between machines, played through: run as programs, and by the tests beside them."""
