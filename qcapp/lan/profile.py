"""The authority as a profile for iPhones and iPads: a property list with the certificate in it.

Keys are those of Apple's configuration profile format (from memory; not tried on a device).
"""

import plistlib
import uuid

from qcapp.lan.authority import Authority


def make_profile(authority: Authority) -> bytes:
    """XML property list. The same authority gives the same identifiers, so that installing twice
    replaces.
    """
    print_uuid = uuid.uuid5(uuid.NAMESPACE_OID, authority.fingerprint)
    title = authority.certificate.subject.rfc4514_string().removeprefix("CN=")
    certificate = {
        "PayloadType": "com.apple.security.root",
        "PayloadVersion": 1,
        "PayloadIdentifier": f"qcapp.yard.authority.{print_uuid}.root",
        "PayloadUUID": str(uuid.uuid5(print_uuid, "root")).upper(),
        "PayloadDisplayName": title,
        "PayloadCertificateFileName": "authority.crt",
        "PayloadContent": authority.der,
    }
    return plistlib.dumps(
        {
            "PayloadType": "Configuration",
            "PayloadVersion": 1,
            "PayloadIdentifier": f"qcapp.yard.authority.{print_uuid}",
            "PayloadUUID": str(print_uuid).upper(),
            "PayloadDisplayName": title,
            "PayloadDescription": "Lets this device open the yard's own server safely. "
            "It can vouch for private addresses only.",
            "PayloadContent": [certificate],
        }
    )
