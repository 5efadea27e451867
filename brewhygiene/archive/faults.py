"""How an archive says what is wrong with it, or with the place it should go to."""


class ArchiveFault(Exception):
    """What is wrong and what to do, in words for the person at the keyboard."""


class NotAnArchive(ArchiveFault):
    """The file was never written by a backup."""


class Damaged(ArchiveFault):
    """The file is cut short, or something in it was changed."""


class WrongPassphrase(ArchiveFault):
    """The passphrase is missing, or does not open the archive."""


class TooNew(ArchiveFault):
    """A newer version of the program wrote the archive."""


class PlaceInUse(ArchiveFault):
    """There is something already where the archive should be restored to."""


class NoRoom(ArchiveFault):
    """The disk is full, or cannot be written to."""
