/* A gauge types its value and Enter. In a form marked data-gauge-form, Enter moves to the next
   reading, past the last reading to the next field, and from the last field to the save button; it
   never sends a half-filled form. Without this script Enter presses the form's first button, which
   asks the server for the same form with the cursor in the next empty box. */
(function () {
  "use strict";

  const FIELDS = "input:not([type=hidden], [type=submit], [type=checkbox], [type=radio]), select";
  const SAVE = "button[type=submit]:not([name])";

  function nextOf(fields, here) {
    const after = fields.slice(here + 1);
    if (!fields[here].matches(".reading")) return after[0];
    const reading = after.find(function (field) { return field.matches(".reading"); });
    return reading || after[0];
  }

  function onEnter(event) {
    if (event.key !== "Enter" || event.isComposing) return;
    const form = event.currentTarget;
    const fields = Array.from(form.querySelectorAll(FIELDS)).filter(function (field) {
      return !field.disabled && !field.readOnly;
    });
    const here = fields.indexOf(event.target);
    if (here === -1) return;
    event.preventDefault();
    const next = nextOf(fields, here) || form.querySelector(SAVE);
    if (!next) return;
    next.focus();
    if (next.select) next.select();
  }

  for (const form of document.querySelectorAll("form[data-gauge-form]")) {
    form.addEventListener("keydown", onEnter);
  }
})();
