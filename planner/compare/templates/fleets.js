// Sorts the tables by the column whose head is pressed; without it they read as they came.
(function () {
  var said = document.querySelector(".sort-said");
  document.querySelectorAll("table.sortable").forEach(function (table) {
    var heads = Array.prototype.slice.call(table.tHead.rows[0].cells);
    var body = table.tBodies[0];
    heads.forEach(function (head, column) {
      var button = document.createElement("button");
      button.type = "button";
      button.textContent = head.textContent;
      head.textContent = "";
      head.appendChild(button);
      button.addEventListener("click", function () { sortBy(column); });
    });

    function sortBy(column) {
      var up = heads[column].getAttribute("aria-sort") !== "ascending";
      heads.forEach(function (head) { head.removeAttribute("aria-sort"); });
      heads[column].setAttribute("aria-sort", up ? "ascending" : "descending");
      var rows = Array.prototype.slice.call(body.rows);
      rows.sort(function (a, b) { return order(value(a, column), value(b, column), up); });
      rows.forEach(function (row) { body.appendChild(row); });
      said.textContent = table.caption.textContent + ": sorted by " +
        heads[column].textContent + (up ? ", lowest first" : ", highest first");
    }
  });

  function value(row, column) { return row.cells[column].getAttribute("data-sort"); }

  // What has no figure stays at the end, whichever way the column is sorted.
  function order(a, b, up) {
    if (a === "" || b === "") { return (a === "") - (b === ""); }
    var numbers = Number(a) - Number(b);
    var found = isNaN(numbers) ? a.localeCompare(b) : numbers;
    return up ? found : -found;
  }
})();
