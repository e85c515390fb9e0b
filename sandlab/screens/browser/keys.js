// The keys go to the terminal from the start, and again after a click beside it: nobody needs a mouse.
function takeKeys() {
  const field = document.querySelector(".xterm-helper-textarea");
  if (field && document.activeElement !== field) field.focus();
}
setInterval(takeKeys, 200);
