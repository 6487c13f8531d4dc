"""Pictures for README of a flight that is over, taken anew: `python tests/dashboard/take_after_screenshots.py`.

The installed commands are run on sample flights, and what they write or serve is photographed by Chromium. The film
under the captions is generated, and ffmpeg burns them in; without ffmpeg that one is left as it is.
"""

import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from playwright.sync_api import Browser, Page, expect, sync_playwright
from small_png import README_FOLDER, save_small
from take_front_screenshots import PATIENCE_MS, SWITCHES

CHECKOUT = Path(__file__).resolve().parents[2]
SAMPLES = CHECKOUT / "replay_samples"
STATION = str(Path(sys.executable).with_name("station"))
WIDEST_PX = 680
LIFTOFF_S, FRAME_S = 5.0, 17.0  # the film's time at liftoff, and of the frame that is shown
CAPTION_STYLE = "Fontsize=15,Outline=1.2,MarginV=16"


def station(*words: str) -> None:
    """Run the command; `check` may end with the status of its verdict."""
    done = subprocess.run([STATION, *words], capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1, 3):
        sys.exit(done.stderr)


def open_page(browser: Browser, address: str, size: tuple[int, int]) -> Page:
    page = browser.new_page(locale="en-US", viewport={"width": size[0], "height": size[1]})
    page.set_default_timeout(PATIENCE_MS)
    page.goto(address)
    return page


def take_replay(browser: Browser) -> None:
    """Under the drogue, paused."""
    words = [STATION, "replay", "replay_samples/main-stays-in.flight", "--no-open", "--page", "127.0.0.1:8157"]
    # From the checkout, for the page shows the path as it was typed.
    replaying = subprocess.Popen(words, stdout=subprocess.PIPE, text=True, cwd=CHECKOUT)
    try:
        assert replaying.stdout is not None
        told = next(line for line in replaying.stdout if "http://" in line)
        address = next(word for word in told.split() if word.startswith("http://"))
        page = open_page(browser, address, (1200, 675))
        page.get_by_role("button", name="Pause").click()
        slider = page.get_by_role("slider")
        slider.fill(str(0.62 * float(slider.get_attribute("max") or 0)))
        slider.dispatch_event("change")
        expect(page.locator("#parachutes")).to_contain_text("eld the fall")
        page.wait_for_timeout(3000)
        save_small(page.screenshot(), README_FOLDER / "replay.png", WIDEST_PX)
    finally:
        replaying.terminate()
        replaying.wait()


def take_pages(browser: Browser, folder: Path) -> None:
    """The page after landing, and the shared file on a phone."""
    station("check", "--page", "--no-open", "--to", str(folder), str(SAMPLES / "main-stays-in.flight"))
    page = open_page(browser, (folder / "main-stays-in-check.html").as_uri(), (1000, 700))
    save_small(page.screenshot(), README_FOLDER / "after-landing.png", WIDEST_PX)
    station("share", str(SAMPLES / "nominal-dual.flight"), "--units", "metres", "--to", str(folder / "shared.html"))
    page = open_page(browser, (folder / "shared.html").as_uri(), (390, 844))
    page.get_by_role("button", name="Main").first.click()
    page.wait_for_timeout(500)
    save_small(page.screenshot(), README_FOLDER / "shared.png", WIDEST_PX)


def take_film(folder: Path) -> None:
    """A frame of an invented film with the flight's captions burned in."""
    station(
        "captions",
        str(SAMPLES / "nominal-dual.flight"),
        "--liftoff-at",
        str(LIFTOFF_S),
        "--to",
        str(folder / "film.srt"),
    )
    film = f"gradients=size=640x360:c0=0x3f7fbf:c1=0x9fc7e7:c2=0x7f9f5f:nb_colors=3:seed=4:duration={FRAME_S + 1:g}"
    burn = f"subtitles=film.srt:force_style='{CAPTION_STYLE}'"
    words = ["ffmpeg", "-loglevel", "error", "-f", "lavfi", "-i", film, "-vf", burn]
    words += ["-ss", f"{FRAME_S:g}", "-frames:v", "1", "frame.png"]
    subprocess.run(words, cwd=folder, check=True)
    save_small((folder / "frame.png").read_bytes(), README_FOLDER / "captions.png", WIDEST_PX)


def main() -> None:
    """Take them all."""
    program = shutil.which("chromium") or shutil.which("google-chrome")
    with TemporaryDirectory() as name, sync_playwright() as playwright:
        folder = Path(name)
        browser = playwright.chromium.launch(executable_path=program, args=SWITCHES)
        take_pages(browser, folder)
        take_replay(browser)
        browser.close()
        station("picture", str(SAMPLES / "nominal-dual.flight"), "--to", str(folder / "picture.png"))
        save_small((folder / "picture.png").read_bytes(), README_FOLDER / "picture.png", WIDEST_PX)
        if shutil.which("ffmpeg"):
            take_film(folder)


if __name__ == "__main__":
    main()
