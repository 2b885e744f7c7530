"""A sign-in line: a web address that signs one person in on this machine, for one day.

It saves typing a password on one's own computer. It is never made or honoured in production.
"""

from django.core import signing

from projects.models import User

SALT = "projects.signin.line"
GOOD_FOR_SECONDS = 24 * 60 * 60


def make(username: str) -> str:
    return signing.TimestampSigner(salt=SALT).sign_object(username)


def read(token: str) -> str | None:
    """The user name inside, or None when the token is not ours or too old."""
    try:
        return signing.TimestampSigner(salt=SALT).unsign_object(token, max_age=GOOD_FOR_SECONDS)
    except signing.BadSignature:
        return None


def bearer(token: str) -> User | None:
    """Whom the token signs in, or None; an account that is closed signs nobody in. One query at most."""
    username = read(token)
    return User.objects.filter(username=username, is_active=True).first() if username else None
