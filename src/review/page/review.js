(function () {
    var bar = document.querySelector(".bar"),
        buttons = [].slice.call(bar.querySelectorAll("button")),
        search = bar.querySelector("input"),
        items = [].slice.call(document.querySelectorAll("[data-flags]")),
        none = document.getElementById("none"),
        flag = "";
    function has(item, f) {
        return !f || (" " + item.getAttribute("data-flags") + " ").indexOf(" " + f + " ") >= 0;
    }
    function show() {
        var words = search.value.toLowerCase().trim(),
            any = false;
        items.forEach(function (item) {
            var on = has(item, flag) && (!words || item.getAttribute("data-text").indexOf(words) >= 0);
            item.hidden = !on;
            any = any || on;
        });
        none.hidden = any;
        buttons.forEach(function (b) {
            b.setAttribute("aria-pressed", String(b.getAttribute("data-filter") === flag));
        });
    }
    buttons.forEach(function (b) {
        b.addEventListener("click", function () {
            flag = b.getAttribute("data-filter");
            show();
        });
    });
    search.addEventListener("input", show);
    bar.hidden = false;
    show();
})();
