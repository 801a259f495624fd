"""Settings of a test run on a server with a provider of OpenID Connect, whose address ``PROVIDER_ISSUER`` is.

They are those of any test run, with all that ``oneonone.settings`` does otherwise once a provider is
configured; nothing of that is repeated here.
"""

import importlib
import os

# Prepares the variables that the settings of the server are made of, so it comes first.
from tests.settings import *  # noqa: F403

of_the_server = importlib.import_module("oneonone.settings")
without = dict(vars(of_the_server))
os.environ |= {
    "ONEONONE_OIDC_NAME": "Quay Pass",
    "ONEONONE_OIDC_ISSUER": os.environ["PROVIDER_ISSUER"],
    "ONEONONE_OIDC_CLIENT_ID": "one-on-ones",
    "ONEONONE_OIDC_CLIENT_SECRET": "a secret of the client",
}
with_one = vars(importlib.reload(of_the_server))
globals().update(
    {name: said for name, said in with_one.items() if name.isupper() and said != without.get(name)}
)
