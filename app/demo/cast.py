"""The people of the made-up studio. Names and facts are invented."""

from dataclasses import dataclass

from app.platform.audit import SYSTEM, Actor
from app.platform.service import Service
from app.studio import actions, forms
from app.studio.models import Member
from app.studio.passwords import hash_password

STUDIO = {"studio_name": "Quiet Line Studio", "country": "IE", "zone": "Europe/Dublin"}
PEOPLE = (
    ("owner", "ines", "Ines Halloran"),
    ("artist", "tomas", "Tomas Verhey"),
    ("artist", "ruth", "Ruth Okonjo"),
    ("desk", "pia", "Pia Lindqvist"),
)


@dataclass(frozen=True)
class Crew:
    owner: Member
    tomas: Member
    ruth: Member
    pia: Member

    def member(self, login: str) -> Member:
        return {"ines": self.owner, "tomas": self.tomas, "ruth": self.ruth, "pia": self.pia}[login]

    def by(self, login: str) -> Actor:
        return Actor("member", self.member(login).id)


def found_studio(service: Service, passwords: dict[str, str]) -> Crew:
    """The studio with its four members, each with the password given for their login."""
    hashes = {login: hash_password(passwords[login]) for _, login, _ in PEOPLE}
    members: dict[str, Member] = {}
    with service.database.write() as db:
        for role, login, name in PEOPLE:
            if role == "owner":
                form = forms.FirstRun(code="demo", name=name, login=login, password=passwords[login], **STUDIO)
                members[login] = actions.found(db, form, hashes[login], by=SYSTEM)
            else:
                new = forms.NewMember.model_validate(
                    {"name": name, "login": login, "role": role, "password": passwords[login]}
                )
                members[login] = actions.add_member(db, new, hashes[login], by=Actor("member", members["ines"].id))
    return Crew(members["ines"], members["tomas"], members["ruth"], members["pia"])
