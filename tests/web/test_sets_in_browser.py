"""Sets in Chromium: put in order by mouse, finger and keyboard alike; undone; two pages at once."""

from __future__ import annotations

from axe import violations
from furnished import FERRY
from playwright.sync_api import Locator, Page, expect
from webhouse import KETTLE, House

KETTLE_ON, FERRY_AT, LAMP_ON = (
    "The Kettle on the Landing",
    "The Ferry at Low Water",
    "The Lamp on the Landing",
)


def _titles(page: Page) -> Locator:
    return page.locator("#in-set .tune-of a")


def _add(page: Page, words: str, title: str) -> None:
    page.get_by_label("Add a tune").fill(words)
    page.get_by_role("button", name=f"Add {title}").click()


def _saved(page: Page) -> None:
    expect(page.locator("#set-state")).to_have_text("Saved.")


def _middle(handle: Locator) -> tuple[float, float]:
    box = handle.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_a_set_is_put_in_order_by_mouse_finger_and_keyboard_alike(page: Page, house: House) -> None:
    for text in (KETTLE, FERRY, KETTLE.replace("Kettle", "Lamp")):
        house.shelve(text)
    page.goto("/sets")
    page.get_by_label("A new one, called").fill("<i>Saturday</i>")
    page.get_by_role("button", name="Add the set").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("<i>Saturday</i>")
    for words, title in (("kettle", KETTLE_ON), ("ferry", FERRY_AT), ("lamp", LAMP_ON)):
        _add(page, words, title)
    expect(_titles(page)).to_have_text([KETTLE_ON, FERRY_AT, LAMP_ON])
    _saved(page)
    expect(page.locator("#harps-said")).to_contain_text("will do")
    assert not violations(page)
    turned = [LAMP_ON, KETTLE_ON, FERRY_AT]
    handles = page.locator("#in-set .handle")

    # By mouse: the last one to the top, the hand gone far beside the list.
    page.mouse.move(*_middle(handles.nth(2)))
    page.mouse.down()
    x, y = _middle(handles.nth(0))
    page.mouse.move(x + 1000, y - 4, steps=6)
    page.mouse.up()
    expect(_titles(page)).to_have_text(turned)
    _saved(page)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#set-said")).to_have_text("Undone")
    expect(_titles(page)).to_have_text([KETTLE_ON, FERRY_AT, LAMP_ON])

    # By finger.
    finger = page.context.new_cdp_session(page)

    def touch(kind: str, *point: float) -> None:
        points = [{"x": point[0], "y": point[1]}] if point else []
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    x, y = _middle(handles.nth(2))
    top = _middle(handles.nth(0))[1] - 4
    touch("touchStart", x, y)
    for step in range(1, 7):
        touch("touchMove", x, y + (top - y) * step / 6)
    touch("touchEnd")
    expect(_titles(page)).to_have_text(turned)
    _saved(page)
    page.get_by_role("button", name="Undo").click()
    expect(_titles(page)).to_have_text([KETTLE_ON, FERRY_AT, LAMP_ON])

    # By keyboard, told in a live region; Escape puts it back.
    moving = page.locator("#moving")
    handles.nth(2).focus()
    page.keyboard.press("Space")
    expect(moving).to_contain_text(f"{LAMP_ON}, taken hold of at 3 of 3")
    page.keyboard.press("ArrowUp")
    expect(moving).to_have_text("2 of 3")
    page.keyboard.press("Escape")
    expect(_titles(page)).to_have_text([KETTLE_ON, FERRY_AT, LAMP_ON])
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    expect(moving).to_contain_text("put down at 1 of 3")
    expect(_titles(page)).to_have_text(turned)
    _saved(page)
    expect(handles.nth(0)).to_be_focused()

    # By buttons; and all of it stands there after a reload.
    page.get_by_role("button", name=f"Down {LAMP_ON}").click()
    page.get_by_role("button", name=f"Take out {FERRY_AT}").click()
    expect(_titles(page)).to_have_text([KETTLE_ON, LAMP_ON])
    page.get_by_label(f"A word on {LAMP_ON}").fill("slowly & softly")
    page.get_by_label("Notes").fill("from the top")
    _saved(page)
    page.reload()
    expect(_titles(page)).to_have_text([KETTLE_ON, LAMP_ON])
    expect(page.get_by_label(f"A word on {LAMP_ON}")).to_have_value("slowly & softly")
    expect(page.get_by_label("Notes")).to_have_value("from the top")


def test_two_pages_change_one_set_and_nothing_is_lost(page: Page, house: House) -> None:
    for text in (KETTLE, FERRY, KETTLE.replace("Kettle", "Lamp")):
        house.shelve(text)
    page.goto("/sets")
    page.get_by_label("A new one, called").fill("Saturday")
    page.get_by_role("button", name="Add the set").click()
    other = page.context.new_page()
    other.goto(page.url)
    _add(page, "kettle", KETTLE_ON)
    _saved(page)
    _add(other, "ferry", FERRY_AT)
    expect(other.get_by_role("button", name="Keep mine")).to_be_focused()
    expect(other.locator("#conflict")).to_contain_text(KETTLE_ON)
    assert not violations(other)
    other.get_by_role("button", name="Keep mine").click()
    _saved(other)
    expect(_titles(other)).to_have_text([FERRY_AT])
    other.get_by_role("button", name="Undo").click()
    expect(_titles(other)).to_have_text([KETTLE_ON])

    # The server gone for a while: what is done meanwhile is sent when it is back.
    other.route("**/sets/*/content", lambda route: route.abort())
    _add(other, "lamp", LAMP_ON)
    expect(other.locator("#set-said")).to_have_text("Kept here until Reedwright is back")
    other.unroute("**/sets/*/content")
    _saved(other)
    # And the first page, where nothing waits, takes it over by itself.
    expect(_titles(page)).to_have_text([KETTLE_ON, LAMP_ON], timeout=10_000)
    other.close()
