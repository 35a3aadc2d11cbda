(function () {
  var name = "pointmodel-scheme", kept = null;
  try { kept = localStorage.getItem(name); } catch (refused) { kept = null; }
  document.querySelectorAll('input[name="scheme"]').forEach(function (choice) {
    if (choice.value === kept) { choice.checked = true; }
    choice.addEventListener("change", function () {
      try { localStorage.setItem(name, choice.value); } catch (refused) { kept = null; }
    });
  });
})();
