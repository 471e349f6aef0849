"""How the system says that a disk takes no more."""

from __future__ import annotations

import errno

FULL = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})
