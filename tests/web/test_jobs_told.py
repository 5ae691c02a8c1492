"""Jobs as pages hear of them: reports, one stream of events, files, folders.

The form of events: HTML Living Standard, 9.2 "Server-sent events".
"""

from __future__ import annotations

import json
import stat
import sys
from pathlib import Path

import joblike
import pytest
from fastapi.testclient import TestClient
from webhouse import House, asked

from reedwright.web.jobs.folders import NotOpened, open_folder, program_for
from reedwright.web.jobs.keeping import Jobs
from reedwright.web.jobs.model import Job

Client = tuple[TestClient, House]


def jobs_of(client: TestClient) -> Jobs:
    jobs: Jobs = client.app.state.desk.jobs  # type: ignore[attr-defined]
    return jobs


def over(client: TestClient, job: Job) -> Job:
    for _ in range(200):
        job = jobs_of(client).wait(job.name, job.version, 1.0)
        if job.over:
            return job
    raise AssertionError(job)


def told_of(text: str) -> list[dict[str, str]]:
    """Fields by name of each event, as the standard reads a stream; comments are left out."""
    found = []
    for block in text.split("\n\n"):
        lines = [line for line in block.split("\n") if line and not line.startswith(":")]
        if lines:
            found.append(dict(line.split(": ", 1) for line in lines))
    return found


def test_one_stream_tells_of_many_jobs_and_ends_when_all_are_over(client: Client) -> None:
    browser, _ = client
    both = [
        jobs_of(browser).begin("test", title, "/tunes/3/pack", joblike.at_once, number)
        for number, title in enumerate(("one", "two"))
    ]
    names = "&".join(f"name={job.name}" for job in both)
    answer = browser.get(f"/jobs/events?{names}&name=unknown")
    assert answer.headers["content-type"].startswith("text/event-stream")
    events = told_of(answer.text)
    reports = [json.loads(each["data"]) for each in events if each.get("event") == "job"]
    last = {each["title"]: each for each in reports}
    assert {title: each["standing"] for title, each in last.items()} == {
        "one": "done",
        "two": "done",
    }
    assert last["two"]["facts"] == {"task": 1}
    assert events[-1]["event"] == "over"

    ids = [each["id"] for each in events if "id" in each]
    later = browser.get(f"/jobs/events?{names}", headers={"last-event-id": ids[-1]})
    assert [each.get("event") for each in told_of(later.text) if "event" in each] == ["over"]
    # An id of an earlier life of the server tells nothing.
    anew = browser.get(f"/jobs/events?{names}", headers={"last-event-id": "other-99999"})
    assert [each.get("event") for each in told_of(anew.text)].count("job") == 2
    alone = browser.get(f"/jobs/{both[0].name}/events")
    assert [each.get("event") for each in told_of(alone.text)].count("job") == 1
    found = browser.get("/jobs/reports", params={"of": "/tunes/3/pack"}).json()["jobs"]
    assert [each["title"] for each in found] == ["two", "one"]


def test_jobs_that_are_not_there_and_too_many_have_a_status_of_their_own(tmp_path: Path) -> None:
    for path in ("/jobs/none", "/jobs/none/events", "/jobs/none/files/a.txt"):
        with asked(tmp_path) as (browser, _):
            assert browser.get(path).status_code == 404
    with asked(tmp_path, most_jobs=0, most_waiting=1) as (browser, house):
        jobs_of(browser).begin("test", "waits", "/", joblike.at_once, None)
        tune = house.shelve()
        answer = browser.post(f"/tunes/{tune.id}/pack/make", json={})
        assert (answer.status_code, answer.json()["kind"]) == (429, "too-many")


def test_what_was_made_is_had_by_the_names_that_the_job_gave_alone(
    client: Client, tmp_path: Path
) -> None:
    browser, _ = client
    (tmp_path / "secret.txt").write_text("not theirs")
    job = over(browser, jobs_of(browser).begin("t", "t", "/", joblike.making, tmp_path / "made"))
    files = f"/jobs/{job.name}/files"
    assert browser.get(f"{files}/a.txt").text == "to read"
    assert browser.get(f"{files}/a.txt").headers["content-disposition"].startswith("attachment")
    looked = browser.get(f"{files}/a.txt?look=1").headers["content-disposition"]
    assert looked.startswith("inline")
    page = browser.get(f"{files}/b.html?look=1").headers["content-disposition"]
    assert page.startswith("attachment")  # what could run is never shown as a page of ours
    for name in ("gone.txt", "secret.txt", "..%2fsecret.txt", "..%5csecret.txt", "%00"):
        assert browser.get(f"{files}/{name}").status_code == 404
    assert str(tmp_path) not in browser.get(f"/jobs/{job.name}").text
    cleared = browser.post("/jobs/clear").json()
    assert cleared == {"jobs": []}
    assert browser.get(f"/jobs/{job.name}").status_code == 404


def test_a_folder_opens_only_at_the_machine_that_serves_it(tmp_path: Path) -> None:
    with asked(tmp_path, host="0.0.0.0", hosts=("127.0.0.1",)) as (browser, _):
        job = jobs_of(browser).begin("t", "t", "/", joblike.making, tmp_path / "made")
        over(browser, job)
        assert not browser.get("/jobs/reports").json()["jobs"][0]["has_folder"]
        assert browser.post(f"/jobs/{job.name}/open").status_code == 403
    with asked(tmp_path) as (browser, _):
        job = jobs_of(browser).begin("t", "t", "/", joblike.at_once, None)
        over(browser, job)
        assert browser.post(f"/jobs/{job.name}/open").status_code == 404  # it made none


@pytest.mark.skipif(sys.platform == "win32", reason="a script stands for the file manager")
def test_a_folder_is_shown_in_the_systems_file_manager(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert [program_for(each) for each in ("win32", "darwin", "linux")] == [
        "explorer",
        "open",
        "xdg-open",
    ]
    folder = tmp_path / "a folder; rm -rf"
    folder.mkdir()
    monkeypatch.setenv("PATH", str(tmp_path / "none"))
    with pytest.raises(NotOpened, match="no 'xdg-open'"):
        open_folder(folder, "linux")
    script = tmp_path / "none/xdg-open"
    script.parent.mkdir()
    script.write_text(f'#!/bin/sh\nprintf "%s" "$1" > "{tmp_path}/shown"\n')
    script.chmod(script.stat().st_mode | stat.S_IXUSR)
    open_folder(folder, "linux")
    assert (tmp_path / "shown").read_text() == str(folder)
    script.write_text("#!/bin/sh\nexit 3\n")
    with pytest.raises(NotOpened, match="could not open"):
        open_folder(folder, "linux")
    script.write_text("#!/bin/sh\n/bin/sleep 5\n")
    open_folder(folder, "linux", wait=0.05)  # it stays open
    with pytest.raises(NotOpened, match="no longer there"):
        open_folder(tmp_path / "not here", "linux")
