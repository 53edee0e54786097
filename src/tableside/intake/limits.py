"""How large a file may be before it is refused. Change these, not the code.

The largest ultrasound frame in the trade is 1920 x 1080 in colour (6 MB) and the longest cine
some minutes; every limit leaves at least an eightfold margin (common practice).
"""

MAX_FILES = 20_000  # files in one study
MAX_FRAME_BYTES = 64 * 2**20  # one decoded frame
MAX_FRAMES = 50_000  # frames of one cine
MAX_REGIONS = 64  # calibrated regions of one image
MAX_FRAGMENTS = 1_000_000  # pieces that one cine may be stored in
MAX_FRAGMENT_BYTES = 2 * MAX_FRAME_BYTES  # one compressed frame
MAX_UNPACKED_BYTES = 4 * 2**30  # a zip, unpacked
MAX_INFLATED_BYTES = 256 * 2**20  # one deflated DICOM object, inflated
MAX_RATIO = 200  # unpacked over packed; more is a bomb, not a picture
RATIO_FREE_BYTES = 32 * 2**20  # below this size the ratio is not looked at
MAX_WORKSHEET_BYTES = 2 * 2**20
CHUNK_BYTES = 2**20
