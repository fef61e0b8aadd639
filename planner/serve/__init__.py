"""The local page over HTTP: the only room for starlette and uvicorn.

Office (a cookie, set by the one-time link that `planner serve` prints):

* `GET /day`: the page of the day.
* `POST /day/change`, body `{"revision": n, "change": {"kind": ..., ...}, "have": [ids]}`. have:
  element ids on the page, left out = all of them. Answers

  * 200 `{"revision": m, "parts": {id: HTML}, "map": {name: JSON}, "say": "a plain sentence"}`: the
    change is on the disk; only pieces that are other than in revision n;
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
  | load | truck, compartment, mix (null = nothing) |
  | truck_out, truck_in | truck |
  | undo, redo | |
  | draft_save, draft_open | name |
  | take | offer (number of a better plan) |

* `POST /day/ask`, body `{"revision": n, "lift": ["order", ...]}`: every truck's answer.
  `{"revision": n, "lifted": [...], "out_change": money, "trucks": [{"truck_id", "best": {"gap",
  "price", "home_min", "why_not"} or null, "why_not": "in words", "gaps": [the same, one a gap],
  "loads": {compartment: mix}}], "parts": {id: HTML}}`. price: what the day's cost changes by; null
  where a rule breaks. loads: the truck would have to be loaded so besides (put it in with
  "compartment"). 409 and 422 as above.
* `POST /day/again`, body `{"revision": n, "effort": 200}`: plan the rest again from the plan on the
  table, around pins. 202 and then events. `POST /day/again/stop`, body `{}`: the best so far.

* `GET /day/parts?since=n&have=a,b`: the same as 200, without a change. Without since: everything.
* `GET /day/events`: server-sent events. `revision` `{"revision": m, "said": "..."}` after every
  change, whoever made it; `again` `{"running", "share", "text", "offers": [{"number",
  "cost_change", "said"}], "parts": {id: HTML}}` while the rest is planned again. Nothing is put in
  until somebody takes an offer. A comment every 15 s.
* `GET /day/customers?text=`: `{"found": [[property, "customer, address"], ...]}`.
* `GET /static/...`: files of planner/pages/static, and Leaflet's.

Every answer carries a content policy without inline scripts. A foreign Host is 400, a write from
another origin 403, no cookie 401, a body over 256 kB 413.
"""
