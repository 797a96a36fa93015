"""How a message leaves the shop: by HTTP, signed, or by mail. Knows nothing of what it says.

What fails raises qc.errors.NotDelivered, in words for the page that shows it.
"""

from qc.delivery.signing import new_secret, signature, signed_headers
from qc.delivery.web import Answer, check_address, post

__all__ = [
    "Answer",
    "check_address",
    "new_secret",
    "post",
    "signature",
    "signed_headers",
]
