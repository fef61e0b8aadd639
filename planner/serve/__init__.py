"""The local page over HTTP: the only room for starlette and uvicorn.

Office (a cookie, set by the one-time link that `planner serve` prints):

* `GET /day`: the page of the day that the server was started for. `GET /day/DATE` (also
  `GET /day?date=DATE`): of another day; everything below `/day` is below `/day/DATE` of that day,
  but for phones.
* `POST /day/change`, body `{"revision": n, "change": {"kind": ..., ...}, "have": [ids]}`. have:
  element ids on the page, left out = all of them. Answers

  * 200 `{"revision": m, "since": n, "parts": {id: HTML}, "map": {name: JSON}, "say": "a plain
    sentence"}`: the change is on the disk; only pieces that are other than in revision n, and in
    them an empty row with data-same for every row that is as it was. since null: all of it;
  * 409, the same with "say": somebody else was quicker; nothing was changed;
  * 422 `{"revision": n, "say": "...", "problems": ["..."]}`: it cannot be done, and why.

  Changes (orders: list of ids; gap: row in TruckFacts.items before which it goes, as the day
  stands, left out = the end; item: name in TruckFacts.items):

  | kind | with |
  |---|---|
  | move, put_in | orders, truck, gap, compartment (that gets their mix) |
  | remove | orders |
  | pin, unpin | orders |
  | refill_add | truck, gap, site |
  | refill_move | truck, item, to (truck), gap, site |
  | refill_delete | truck, item |
  | lunch_move | truck, gap |
  | lunch_delete | truck |
  | load | truck, compartment, mix (null = nothing), fill_to_gal (null = what it holds) |
  | truck_out, truck_in | truck |
  | undo, redo | |
  | draft_save, draft_open | name |
  | take | offer (number of a better plan) |
  | new_order | property, mix, and area_ft2, priority, note, windows or open and close |

* `POST /day/ask`, body `{"revision": n, "lift": ["order", ...]}`: every truck's answer.
  planner.office.day.Asked as JSON with `"parts"`, what planner.pages.asked_parts makes of it. 409
  and 422 as above.
* `POST /day/again`, body `{"revision": n, "effort": 200}`: plan the rest again from the plan
  on the table, around pins. `POST /day/again/stop`, body `{}`: end with the best so far.
* `POST /day/print`, body `{"revision": n, "with_violations": false}`: the plan becomes the day's
  plan of record, its papers are written; what people typed stays.
* `GET /day/compare?draft=NAME`, `GET /day/customers?text=`: as planner/pages says.
* `GET /day/packet?truck=T1&truck=T3`, `GET /day/papers/NAME.html`: sheets to look at and print,
  marked as a draft where they are not those of the plan of record.
* `GET /day/phones`: QR codes of the trucks' pages, and what crews wrote that is no record yet.
* `GET /day/parts?since=n&have=a,b`: the same as 200, without a change. Without since: everything.
* `GET /day/events`: server-sent events. `revision` `{"revision": m, "said": "..."}` after every
  change or print, whoever made it; while the rest is planned again `again` `{"running", "share",
  "text", "offers": [{"number", "cost_change", "said"}], "parts": {id: HTML}}`. Nothing is put in
  until somebody takes an offer. A comment every 15 s.
* `/tables...`: as planner/serve/tables.py says. It is there from the start; while the workbook has
  problems, `/day` leads to it. `/records...`, `/compare...`, `/weeks...`
  and `/import...`: as records.py, runs.py and tables.py here say.
* `GET /static/...`: files of planner/pages/static.

A crew's phone (the truck's own key in the path, which opens nothing else):

* `GET /truck/T1/KEY/`: the truck's page, of the plan of record. `POST /truck/T1/KEY/say`: what the
  crew wrote, kept once, as planner/phone_day.py says.

Every answer carries a content policy without inline scripts. A foreign Host is 400, a write from
another origin 403, no cookie 401, a body over 256 kB 413 (an export may have 20 MB).
"""
