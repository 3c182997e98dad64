"""The Bot API's methods, as far as the bot uses them, with the platform's checks and its words of refusal."""

from collections.abc import Callable
from typing import Any

from tests.botapi.deeds import Refusal, Sent, Upload
from tests.botapi.markup import LONGEST_TEXT, MarkupError, plain_text, utf16_length
from tests.botapi.world import World

LONGEST_CAPTION = 1024
LARGEST_FILE = {"document": 50 * 2**20, "photo": 10 * 2**20}
LONGEST_NAME = 60  # the platform cuts longer ones short [gen]
Params = dict[str, Any]


def get_me(world: World, params: Params) -> Any:
    return world.bot


def send_message(world: World, params: Params) -> Any:
    chat_id = _chat(world, params)
    text = _text(params, "text", LONGEST_TEXT)
    if not text:
        raise Refusal(400, "Bad Request: message text is empty")
    return _sent(world, chat_id, params, {"text": text}, text)


def send_document(world: World, params: Params) -> Any:
    return _send_file(world, params, "document")


def send_photo(world: World, params: Params) -> Any:
    return _send_file(world, params, "photo")


def _send_file(world: World, params: Params, kind: str) -> Any:
    """A file as a part of its own, or one that the platform has already, by its id or address."""
    chat_id = _chat(world, params)
    given = params.get(kind)
    if not given:
        raise Refusal(400, f"Bad Request: there is no {kind} in the request")
    caption = _text(params, "caption", LONGEST_CAPTION)
    fact = {"file_id": f"file-{len(world.sent)}", "file_unique_id": f"unique-{len(world.sent)}"}
    name, media_type = str(given), None
    if isinstance(given, Upload):
        if not given.content:
            raise Refusal(400, "Bad Request: file must be non-empty")
        if len(given.content) > LARGEST_FILE[kind]:
            raise Refusal(413, "Request Entity Too Large")
        name, media_type = given.name[:LONGEST_NAME], given.media_type
        fact |= {"file_size": len(given.content), "mime_type": media_type}
        world.files[fact["file_id"]] = given.content
    body = [fact | {"width": 90, "height": 90}] if kind == "photo" else fact | {"file_name": name}
    fields = {kind: body, **({"caption": caption} if caption else {})}
    return _sent(world, chat_id, params, fields, caption, file_name=name, media_type=media_type)


def edit_message_text(world: World, params: Params) -> Any:
    return _edit(world, params, "text", LONGEST_TEXT)


def edit_message_caption(world: World, params: Params) -> Any:
    return _edit(world, params, "caption", LONGEST_CAPTION)


def _edit(world: World, params: Params, part: str, longest: int) -> Any:
    chat_id = _chat(world, params)
    message = world.messages.get((chat_id, params.get("message_id", 0)))
    if message is None:
        raise Refusal(400, "Bad Request: message to edit not found")
    if message.get("from") is not world.bot:
        raise Refusal(400, "Bad Request: message can't be edited")
    if ("text" in message) != (part == "text"):
        raise Refusal(400, f"Bad Request: there is no {part} in the message to edit")
    text = _text(params, part, longest)
    if not text and part == "text":
        raise Refusal(400, "Bad Request: message text is empty")
    markup = _keyboard(params)
    if message.get(part, "") == text and message.get("reply_markup", {}) == markup:
        raise Refusal(
            400,
            "Bad Request: message is not modified: specified new message content and reply markup are "
            "exactly the same as a current content and reply markup of the message",
        )
    message[part] = text
    message.pop("reply_markup", None)
    if markup:
        message["reply_markup"] = markup
    world.sent.append(Sent(chat_id, message["message_id"], text, _rows(markup), edited=True))
    return {key: value for key, value in message.items() if key != "reply_to_message"}


def answer_callback_query(world: World, params: Params) -> Any:
    if not str(params.get("callback_query_id", "")).startswith("query-"):
        raise Refusal(
            400, "Bad Request: query is too old and response timeout expired or query ID is invalid"
        )
    return True


def set_my_commands(world: World, params: Params) -> Any:
    return True


def leave_chat(world: World, params: Params) -> Any:
    world.blocked.add(_chat(world, params))
    return True


def set_webhook(world: World, params: Params) -> Any:
    url = str(params.get("url", ""))
    if not url.startswith(("https://", "http://127.0.0.1:")):
        raise Refusal(400, "Bad Request: bad webhook: An HTTPS URL must be provided for webhook")
    world.webhook = {"url": url, "secret_token": params.get("secret_token")}
    world.allowed = params.get("allowed_updates") or world.allowed
    return True


def delete_webhook(world: World, params: Params) -> Any:
    world.webhook = {"url": ""}
    if params.get("drop_pending_updates"):
        world.updates.clear()
    return True


def get_webhook_info(world: World, params: Params) -> Any:
    return {
        "url": world.webhook["url"],
        "has_custom_certificate": False,
        "pending_update_count": len(world.updates),
    }


METHODS: dict[str, Callable[[World, Params], Any]] = {
    "getme": get_me,
    "sendmessage": send_message,
    "senddocument": send_document,
    "sendphoto": send_photo,
    "editmessagetext": edit_message_text,
    "editmessagecaption": edit_message_caption,
    "answercallbackquery": answer_callback_query,
    "setmycommands": set_my_commands,
    "leavechat": leave_chat,
    "setwebhook": set_webhook,
    "deletewebhook": delete_webhook,
    "getwebhookinfo": get_webhook_info,
}
"""By the method's name in lower case, as the platform reads names. getUpdates waits, so it is the server's."""


def _chat(world: World, params: Params) -> int:
    chat_id = params.get("chat_id")
    if chat_id in world.migrated:
        raise Refusal(
            400,
            "Bad Request: group chat was upgraded to a supergroup chat",
            migrate_to_chat_id=world.migrated[chat_id],
        )
    if chat_id not in world.chats:
        raise Refusal(400, "Bad Request: chat not found")
    if chat_id in world.blocked:
        how = "bot was blocked by the user" if chat_id > 0 else "bot was kicked from the group chat"
        raise Refusal(403, f"Forbidden: {how}")
    return int(chat_id)


def _text(params: Params, name: str, longest: int) -> str:
    text = str(params.get(name) or "")
    mode = params.get("parse_mode")
    if mode not in (None, "HTML"):
        raise Refusal(400, "Bad Request: this double knows HTML only")
    if mode == "HTML":
        try:
            text = plain_text(text)
        except MarkupError as error:
            raise Refusal(400, f"Bad Request: can't parse entities: {error}") from None
    text = text.strip()
    if utf16_length(text) > longest:
        said = "message is too long" if name == "text" else "message caption is too long"
        raise Refusal(400, f"Bad Request: {said}")
    return text


def _keyboard(params: Params) -> Params:
    markup = params.get("reply_markup") or {}
    for row in markup.get("inline_keyboard", []):
        for button in row:
            if not 1 <= len(str(button.get("callback_data", "")).encode()) <= 64:
                raise Refusal(400, "Bad Request: BUTTON_DATA_INVALID")
            if not button.get("text"):
                raise Refusal(400, "Bad Request: text buttons are unallowed in the inline keyboard")
    return dict(markup)


def _rows(markup: Params) -> tuple[tuple[tuple[str, str], ...], ...]:
    rows = markup.get("inline_keyboard", [])
    return tuple(tuple((button["text"], button["callback_data"]) for button in row) for row in rows)


def _sent(
    world: World,
    chat_id: int,
    params: Params,
    fields: Params,
    text: str,
    *,
    file_name: str | None = None,
    media_type: str | None = None,
) -> Any:
    markup = _keyboard(params)
    thread_id = params.get("message_thread_id")
    if thread_id is not None:
        if not world.chats[chat_id].get("is_forum"):
            raise Refusal(400, "Bad Request: message thread not found")
        fields |= {"message_thread_id": thread_id, "is_topic_message": True}
    reply = params.get("reply_parameters") or {}
    reply_to = reply.get("message_id")
    if reply_to is not None and (chat_id, reply_to) not in world.messages:
        if not reply.get("allow_sending_without_reply"):
            raise Refusal(400, "Bad Request: message to be replied not found")
        reply_to = None
    if markup:
        fields["reply_markup"] = markup
    message = world.add_message(chat_id, fields)
    world.sent.append(
        Sent(
            chat_id,
            message["message_id"],
            text,
            _rows(markup),
            reply_to=reply_to,
            thread_id=thread_id,
            file_name=file_name,
            media_type=media_type,
        )
    )
    return message
