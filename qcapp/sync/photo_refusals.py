"""Why bytes are not taken as a photo: told to the phone as data, which keeps it and words it from
its own catalogue.
"""

from qcapp.i18n.messages import MessageTable

REFUSALS = MessageTable()
NOT_JPEG = REFUSALS.sentence("not_jpeg", "it is not a JPEG")
CUT_OFF = REFUSALS.sentence("cut_off", "it is cut off or damaged")
HIDDEN_DATA = REFUSALS.sentence("hidden_data", "something is hidden behind the picture")
NOT_ONE_PICTURE = REFUSALS.sentence("not_one_picture", "it is not one plain picture")
TOO_MANY_PIXELS = REFUSALS.sentence(
    "too_many_pixels", "it is %(width)s by %(height)s pixels; at most %(most)s on a side"
)
DAMAGED = REFUSALS.sentence("damaged", "the picture is damaged")
CAMERA_DATA = REFUSALS.sentence(
    "camera_data", "it carries camera data (EXIF), which may hold the place it was taken"
)
EXTRA_DATA = REFUSALS.sentence("extra_data", "it carries text or data beside the picture")
