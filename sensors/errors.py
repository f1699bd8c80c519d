"""What cannot be at the sensor's end: the exceptions of this folder, told in a maker's words."""


class SensorsError(Exception):
    """The root of all errors that this folder raises on purpose."""


class BadPayloadError(SensorsError, ValueError):
    """A message cannot be read as readings; the text is the reason, in words for a maker."""


class BadFileError(SensorsError, ValueError):
    """A file of readings cannot be used at all; single bad rows are only counted."""


class BadAddressError(SensorsError, ValueError):
    """The address of a broker is not one; the text says how to write it."""


class SendError(SensorsError):
    """The broker could not be reached, or did not take what was sent; one line says which."""
