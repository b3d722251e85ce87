"""Pictures of every door, from a demo shop made for them and thrown away afterwards.

`python -m tools.screenshots [names...]` writes docs/screenshots/<name>-<width>.png. `--all` takes
the screens behind the doors too, `--full` whole pages instead of what a window shows, `--to FOLDER`
puts them elsewhere.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, FilePayload, Page, sync_playwright

from tools.demo import HOME, answers

PICTURES = HOME / "docs" / "screenshots"
SIZES = ((1280, 800), (390, 844))
STARTS_WITHIN = 480.0
PASSWORD = re.compile(r"Password of everybody: (\S+)")

OWNER, OFFICE = "owner@example.com", "office@example.com"
CREW, CREW_SPANISH = "crew@example.com", "cuadrilla@example.com"
NOBODY = ""


@dataclass(frozen=True)
class Shot:
    """One door: who looks at it, where it starts, and what is done before the picture."""

    name: str
    who: str
    path: str
    act: Callable[[Page], None] | None = None


class NoPicture(Exception):
    """Its text says what went wrong."""


def show_cast_effect(page: Page) -> None:
    """A cast moved back so far that its promise falls short."""
    for code in ("218-A", "218-B"):
        page.get_by_label(re.compile(rf"\b{code}\b")).first.check()
    later = dt.date.today() + dt.timedelta(days=6)  # noqa: DTZ011 (any day near will do)
    page.locator("input[type=date]").fill(later.isoformat())
    page.locator("input[type=time]").fill("10:00")
    page.get_by_role("button", name="Show the effect").click()
    page.wait_for_load_state("networkidle")
    page.get_by_role("button", name="Show the effect").scroll_into_view_if_needed()


def preview_notice(page: Page) -> None:
    page.get_by_role("button", name=re.compile("look at it|preview", re.IGNORECASE)).first.click()
    page.wait_for_load_state("networkidle")


def follow_customer_link(page: Page) -> None:
    page.goto(customer_link(page))


TABLE = b"""Orders for next month
Job #,Customer,What it is,Due date,Piece,Length,Width (in),Thickness
501,Petra Lindqvale,Bath,4/20/2031,Vanity,61 1/2,22,3/4
,,,,Shelf,30,8 1/4,3/4
502,Garnet & Loom,Bar,5/14/2031,Bar top,110,26,1 1/2
"""


def look_at_columns(page: Page) -> None:
    table = FilePayload(name="orders.csv", mimeType="text/csv", buffer=TABLE)
    page.get_by_label("File").set_input_files(table)
    page.get_by_role("button", name="Look at its columns").click()
    page.wait_for_load_state("networkidle")


def customer_link(page: Page) -> str:
    found = re.search(r"(?:https?://[^\"'<\s]+)?/p/[\w-]+/", page.content())
    if not found:
        raise NoPicture(f"{page.url} shows no customer's link.")
    return re.sub(r"^https?://[^/]+", "", found[0])


PLANNED_WITHIN = 300_000  # milliseconds, on a busy machine


def plan_and_take(page: Page) -> None:
    """Plans the week once, and takes it; the next picture finds it standing."""
    if page.get_by_text("No plan stands yet").count():
        page.get_by_role("button", name="Plan the week").click()
        whole = page.get_by_role("button", name="Take the whole plan")
        page.get_by_role("link", name="Look at it").or_(whole).first.wait_for(
            timeout=PLANNED_WITHIN
        )
        if not whole.count():
            page.get_by_role("link", name="Look at it").click()
        whole.click()
        page.wait_for_load_state("networkidle")
    page.goto("/plan/")
    page.wait_for_load_state("networkidle")


DOORS = (
    Shot("sign-in", NOBODY, "/sign-in/"),
    Shot("board", OWNER, "/board/"),
    Shot("board-job", OWNER, "/board/jobs/217/"),
    Shot("cast", OWNER, "/board/casts/new/", show_cast_effect),
    Shot("floor", CREW, "/floor/"),
    Shot("floor-es", CREW_SPANISH, "/floor/"),
    Shot("piece", CREW, "/floor/pieces/217-A/"),
    Shot("office", OFFICE, "/office/"),
    Shot("job", OFFICE, "/office/jobs/212/"),
    Shot("notice", OFFICE, "/office/jobs/212/tell/", preview_notice),
    Shot("customer", OFFICE, "/office/jobs/209/", follow_customer_link),
    Shot("air", OWNER, "/readings/"),
    Shot("setup", OWNER, "/shop/"),
    Shot("route", OWNER, "/shop/routes/1/"),
    Shot("section", OFFICE, "/pieces/220-B/section/"),
    Shot("recipe", OWNER, "/shop/mixes/2/recipes/"),
    Shot("runs", OWNER, "/mixing/casts/13/"),
    Shot("weigh", CREW, "/floor/runs/12/"),
    Shot("record", OFFICE, "/mixing/casts/14/record/"),
    Shot("plan", OWNER, "/plan/", plan_and_take),
    Shot("date", OFFICE, "/office/date/"),
    Shot("bring-in", OFFICE, "/exchange/in/", look_at_columns),
)
ROOMS_BEHIND = (
    Shot("install", OWNER, "/board/jobs/212/install/"),
    Shot("tell", OFFICE, "/office/jobs/212/tell/"),
    Shot("customer-short", OFFICE, "/office/jobs/212/", follow_customer_link),
    Shot("mixing", OWNER, "/mixing/"),
    Shot("recipe-edit", OWNER, "/shop/mixes/2/recipe/"),
    Shot("lots", OFFICE, "/mixing/lots/"),
    Shot("loads", OFFICE, "/sheets/loads/"),
    Shot("take-out", OFFICE, "/exchange/out/"),
    Shot("new-job", OFFICE, "/office/new-job/"),
    Shot("customers", OFFICE, "/office/customers/"),
    Shot("sensors", OWNER, "/readings/sensors/"),
    Shot("settings", OWNER, "/shop/settings/"),
    Shot("rooms", OWNER, "/shop/rooms/"),
    Shot("room-air", OWNER, "/shop/rooms/1/air/"),
    Shot("hours", OWNER, "/shop/hours/"),
    Shot("closed", OWNER, "/shop/closed/"),
    Shot("mixes", OWNER, "/shop/mixes/"),
    Shot("mix", OWNER, "/shop/mixes/1/"),
    Shot("mix-tests", OWNER, "/shop/mixes/2/tests/"),
    Shot("sealers", OWNER, "/shop/sealers/"),
    Shot("routes", OWNER, "/shop/routes/"),
    Shot("step", OWNER, "/shop/routes/1/steps/2/"),
    Shot("crew", OWNER, "/shop/crew/"),
    Shot("stations", OWNER, "/shop/stations/"),
    Shot("people", OWNER, "/shop/people/"),
    Shot("account", CREW, "/account/"),
)


def free_port() -> int:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return int(trial.getsockname()[1])


@contextmanager
def demo_shop() -> Iterator[tuple[str, str]]:
    """Address of a demo of its own, and the password of everybody in it."""
    folder = Path(tempfile.mkdtemp(prefix="curewright-pictures-"))
    port = free_port()
    said = (folder / "said.log").open("w+")
    demo = subprocess.Popen(  # noqa: S603 (this project's own command)
        [sys.executable, "-m", "tools.demo", "run", "--port", str(port)],
        cwd=HOME,
        env=os.environ | {"CUREWRIGHT_VAR": str(folder)},
        stdout=said,
        stderr=subprocess.STDOUT,
        stdin=subprocess.DEVNULL,
    )
    try:
        yield f"http://127.0.0.1:{port}", _password(demo, port, Path(said.name))
    finally:
        demo.send_signal(signal.SIGINT)
        demo.wait(timeout=30)
        said.close()
        shutil.rmtree(folder, ignore_errors=True)


def _password(demo: subprocess.Popen[bytes], port: int, said: Path) -> str:
    until = time.monotonic() + STARTS_WITHIN
    while time.monotonic() < until and demo.poll() is None:
        printed = PASSWORD.search(said.read_text())
        if printed and answers(port):
            return printed[1]
        time.sleep(0.5)
    raise NoPicture(f"The demo did not start:\n{said.read_text()}")


def sign_in(context: BrowserContext, who: str, password: str) -> None:
    page = context.new_page()
    page.goto("/sign-in/")
    page.locator("input[name=email]").fill(who)
    page.locator("input[name=password]").fill(password)
    page.locator("main form button[type=submit], main form button").first.click()
    page.wait_for_load_state("networkidle")
    if "/sign-in/" in page.url:
        raise NoPicture(f"{who} could not sign in.")
    page.close()


def take(page: Page, shot: Shot, file: Path, *, full: bool) -> str:
    """Take one picture; what the browser complained of meanwhile, or nothing."""
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    answer = page.goto(shot.path)
    if answer is None or not answer.ok:
        return f"answers {answer.status if answer else 'nothing'}"
    page.wait_for_load_state("networkidle")
    if shot.act:
        shot.act(page)
    width = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    if width > 0:
        complaints.append(f"is {width} px wider than the window")
    page.screenshot(path=file, full_page=full)
    return "; ".join(complaints)


def take_all(browser: Browser, address: str, password: str, chosen: argparse.Namespace) -> int:
    trouble = 0
    every = DOORS + ROOMS_BEHIND
    shots = [shot for shot in every if shot.name in chosen.names]
    shots = shots or list(every if chosen.all else DOORS)
    for width, height in SIZES:
        contexts: dict[str, BrowserContext] = {}
        for shot in shots:
            if shot.who not in contexts:
                contexts[shot.who] = browser.new_context(
                    base_url=address,
                    viewport={"width": width, "height": height},
                    has_touch=width < 600,
                    is_mobile=width < 600,
                )
                contexts[shot.who].set_default_timeout(10_000)
                if shot.who:
                    sign_in(contexts[shot.who], shot.who, password)
            file = chosen.to / f"{shot.name}-{width}.png"
            page = contexts[shot.who].new_page()
            try:
                complaint = take(page, shot, file, full=chosen.full)
            except Exception as error:  # one door that does not open must not hide the others
                complaint = str(error).splitlines()[0]
            page.close()
            print(f"{file.name}: {complaint or 'ok'}", flush=True)
            trouble += bool(complaint)
        for context in contexts.values():
            context.close()
    return trouble


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", help="only these doors")
    parser.add_argument("--all", action="store_true", help="the screens behind the doors, too")
    parser.add_argument("--full", action="store_true", help="whole pages")
    parser.add_argument("--to", type=Path, default=PICTURES)
    chosen = parser.parse_args()
    chosen.to.mkdir(parents=True, exist_ok=True)
    with demo_shop() as (address, password), sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium") or shutil.which("chromium-headless-shell"),
            args=["--no-sandbox"],
        )
        trouble = take_all(browser, address, password, chosen)
        browser.close()
    return 1 if trouble else 0


if __name__ == "__main__":
    sys.exit(main())
