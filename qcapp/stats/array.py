"""The one kind of array that is reckoned with here."""

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
