/* A gauge types its value and Enter. In a form marked data-gauge-form, Enter moves to the next
   field, and from the last field to the submit button; it never sends a half-filled form.
   Without this script Enter submits, so the server takes a partly filled form and asks for more. */
(function () {
  "use strict";

  const FIELDS = "input:not([type=hidden], [type=submit], [type=checkbox], [type=radio]), select";

  function onEnter(event) {
    if (event.key !== "Enter" || event.isComposing) return;
    const form = event.currentTarget;
    const fields = Array.from(form.querySelectorAll(FIELDS)).filter(function (field) {
      return !field.disabled && !field.readOnly;
    });
    const here = fields.indexOf(event.target);
    if (here === -1) return;
    event.preventDefault();
    const next = fields[here + 1] || form.querySelector("button[type=submit]");
    if (!next) return;
    next.focus();
    if (next.select) next.select();
  }

  for (const form of document.querySelectorAll("form[data-gauge-form]")) {
    form.addEventListener("keydown", onEnter);
  }
})();
