(function () {
  var root = document.documentElement, name = "pointmodel-scheme";
  var papers = { day: "#f7f5ef", dark: "#10151c", red: "#000000" };
  var stated = root.dataset.scheme, here = name + location.pathname;
  function read(store, key) { try { return window[store].getItem(key); } catch (refused) { return null; } }
  function keep(store, key, value) { try { window[store].setItem(key, value); } catch (refused) { return; } }
  function set(scheme) {
    root.dataset.scheme = scheme;
    document.querySelector('meta[name="color-scheme"]').content =
      { auto: "light dark", day: "light" }[scheme] || "dark";
    if (papers[scheme]) {
      document.querySelectorAll('meta[name="theme-color"]').forEach(function (meta) {
        meta.removeAttribute("media"); meta.content = papers[scheme];
      });
    }
  }
  root.dataset.live = "";
  // what was chosen on this page, else what the page was made for, else what was chosen last
  var kept = read("sessionStorage", here) || (stated === "auto" ? read("localStorage", name) : null);
  if (kept === "auto" || papers[kept]) { set(kept); }
  document.addEventListener("DOMContentLoaded", function () {
    document.querySelectorAll('input[name="scheme"]').forEach(function (choice) {
      choice.checked = choice.value === root.dataset.scheme;
      choice.addEventListener("change", function () {
        set(choice.value);
        keep("sessionStorage", here, choice.value);
        keep("localStorage", name, choice.value);
      });
    });
    openNamed();
  });
  function openNamed() {
    var named = location.hash && document.getElementById(location.hash.slice(1));
    var fold = named && named.closest("details");
    if (fold) { fold.open = true; fold.scrollIntoView(); }
  }
  window.addEventListener("hashchange", openNamed);
  var closed = [];
  window.addEventListener("beforeprint", function () {
    closed = Array.from(document.querySelectorAll("details:not([open])"));
    closed.forEach(function (fold) { fold.open = true; });
  });
  window.addEventListener("afterprint", function () {
    closed.forEach(function (fold) { fold.open = false; });
  });
})();
