"""A feature service as a test asks it: the team's or the public's."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from fastapi.testclient import TestClient

JSON = "application/json"
GEOJSON = "application/geo+json"
HTML = "text/html"


@dataclass(frozen=True)
class Door:
    """The service at `root`; addresses are given below it, or whole as links give them."""

    client: TestClient
    root: str

    def get(self, path: str = "", *, accept: str | None = JSON, **asked: Any) -> Any:
        headers = {"Accept": accept} if accept is not None else {}
        address = path if path.startswith("http") else f"{self.root}{path}"
        params = {name.rstrip("_"): value for name, value in asked.items()}
        return self.client.get(address, headers=headers, params=params or None)

    def told(self, path: str = "", **asked: Any) -> Any:
        answer = self.get(path, **asked)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def names(self) -> list[str]:
        return [one["id"] for one in self.told("/collections")["collections"]]

    def pages(self, path: str, **asked: Any) -> Iterator[Any]:
        """A page of features, and all that its `next` links lead to."""
        page = self.told(path, **asked)
        yield page
        while following := linked(page, "next"):
            page = self.told(following)
            yield page

    def features(self, name: str, **asked: Any) -> list[Any]:
        path = f"/collections/{name}/items"
        return [one for page in self.pages(path, **asked) for one in page["features"]]


def links(document: Any, rel: str) -> list[dict[str, str]]:
    return [link for link in document["links"] if link["rel"] == rel]


def linked(document: Any, rel: str) -> str | None:
    """The address of the first link of a relation; None if there is none."""
    found = links(document, rel)
    return found[0]["href"] if found else None


def parameters(door: Door, name: str) -> dict[str, Any]:
    """Parameters of a collection's items, by name, as the API document has them."""
    document = door.told("/api")
    listed = document["paths"][f"/collections/{name}/items"]["get"]["parameters"]
    whole = [resolved(document, one) for one in listed]
    return {one["name"]: one for one in whole}


def resolved(document: Any, thing: Any) -> Any:
    while "$ref" in thing:
        at = document
        for step in thing["$ref"].removeprefix("#/").split("/"):
            at = at[step]
        thing = at
    return thing
