"""The lines of the checklist about what comes in and who sends it: chapters 1 to 7."""

from __future__ import annotations

from tests.security.checklist_lines import (
    ACCOUNTS,
    BAD,
    CANARIES,
    ENVIRONMENT,
    FACTORS,
    HEADERS,
    INVITED,
    LIMITS,
    MARKUP,
    MATRIX,
    OUT,
    PASSWORD,
    REQUIRED,
    SESSIONS,
    SIGNING,
    STATIC,
    Line,
    held,
    no_meaning,
    not_held,
)

OF_REQUESTS: tuple[Line, ...] = (
    # --- V1: encoding and sanitisation
    held(
        "1.2.1, 1.2.3",
        "text is escaped where it is shown",
        f"{STATIC}::test_nothing_is_marked_safe_outside_the_list",
        f"{STATIC}::test_no_template_leaves_text_unescaped_but_those_of_plain_mails",
    ),
    held(
        "1.2.2",
        "links lead to pages and addresses only",
        f"{MARKUP}::test_any_other_scheme_is_no_link",
        "services/meetings/test_intervals.py::test_terms_that_make_no_grid_are_refused_by_field",
    ),
    held(
        "1.2.4",
        "no statement is put together from text",
        f"{STATIC}::test_statements_are_literal_outside_the_list",
    ),
    held("1.2.5", "no shell is asked", f"{STATIC}::test_no_shell_is_asked_and_nothing_is_unpickled"),
    held(
        "1.2.10",
        "no cell of a table begins a formula",
        "web/cadence/test_cadence_pictures.py::test_no_name_begins_a_formula",
    ),
    held("1.3.5", "Markdown brings no HTML of its own", f"{MARKUP}::test_typed_html_is_text"),
    held("1.3.7", "no template is made of a text", f"{OUT}::test_no_template_is_made_of_a_text"),
    held(
        "1.3.6, 13.1.1, 13.2.4, 13.2.5",
        "the server connects to what the operator named, and to nothing a page names",
        f"{OUT}::test_connections_are_opened_by_the_files_on_the_list_alone",
        f"{MARKUP}::test_a_picture_is_never_fetched",
    ),
    held(
        "1.3.11",
        "no header of a mail comes from a text",
        "mail/test_post.py::test_a_header_with_a_line_break_is_refused_before_anything_is_sent",
        "mail/test_messages.py::test_a_name_cannot_break_out_of_its_line_nor_into_markup",
    ),
    held(
        "1.5.2",
        "messages and sessions are JSON",
        f"{STATIC}::test_messages_are_json_and_no_result_is_kept",
        f"{STATIC}::test_no_shell_is_asked_and_nothing_is_unpickled",
    ),
    not_held(
        "1.5.2, cache",
        "nothing in the cache is pickled",
        "the framework's caches pickle; counters of tries are all that is kept there",
        f"{CANARIES}::test_private_words_are_nowhere_but_on_their_authors_pages",
    ),
    # --- V2: validation and business logic
    held(
        "2.2.1, 2.2.2",
        "what is sent is checked at the server, and refused in words",
        "web/test_forms.py::test_a_refusal_says_what_would_be_accepted",
        f"{BAD}::test_no_field_takes_what_harms",
    ),
    held(
        "2.3.2",
        "limits of the domain are written down and kept",
        "services/agenda/test_topics.py::test_an_agenda_holds_sixty_topics_and_a_parked_one_waits_for_room",
        f"{BAD}::test_no_single_field_takes_anything_that_harms",
    ),
    not_held(
        "2.3.3",
        "each act is done as a whole or not at all",
        "shown with a fault at every statement for erasing and for new keys, not for every act",
        "services/upkeep/test_erasure.py::test_erasing_that_dies_at_any_statement_has_erased_all_or_nothing",
        "services/upkeep/test_key_renewal.py::test_renewing_that_dies_at_any_statement_leaves_everything_readable_and_goes_on",
    ),
    held(
        "2.3.4",
        "of two at once one does it",
        "services/test_races.py::test_of_two_who_start_the_same_meeting_one_starts_it",
        "services/test_races.py::test_a_topic_sent_twice_at_once_with_one_key_is_one_topic",
        "tasks/test_races.py::test_each_thing_owed_is_done_once_and_each_mail_arrives_once",
    ),
    not_held(
        "2.4.1",
        "tries in bulk are slowed down",
        "signing in, codes and searching one's notes are; inviting and the table to take along are not",
        f"{LIMITS}::test_ten_refused_passwords_for_an_address_and_place_are_the_most",
        f"{LIMITS}::test_a_stranger_elsewhere_does_not_keep_the_owner_out",
        "web/private/test_search.py::test_searching_without_end_is_stopped_for_a_while",
    ),
    # --- V3: browsers
    held(
        "3.2.1, 4.1.1",
        "every answer says what it is",
        f"{OUT}::test_every_answer_says_what_it_is_to_this_site_alone_and_is_not_kept",
    ),
    held(
        "3.3.1 to 3.3.4",
        "cookies are bound to the host, to TLS and to this site",
        f"{HEADERS}::test_over_tls_cookies_and_the_browser_are_bound_to_it",
    ),
    not_held(
        "3.4.1",
        "browsers come by TLS for a year, subdomains too",
        "for a year; whether the domain's other hosts speak TLS is for its owner to say, at their proxy",
        f"{HEADERS}::test_over_tls_cookies_and_the_browser_are_bound_to_it",
    ),
    held(
        "3.4.2",
        "no other site reads answers",
        f"{OUT}::test_every_answer_says_what_it_is_to_this_site_alone_and_is_not_kept",
    ),
    held(
        "3.4.3 to 3.4.6",
        "content policy without inline parts, no sniffing, no frames, no referrer",
        f"{HEADERS}::test_every_answer_of_every_address_carries_them",
        f"{HEADERS}::test_so_do_answers_that_no_page_gave",
    ),
    held(
        "3.5.1",
        "no act without the token of a form",
        f"{MATRIX}::test_no_act_is_taken_without_the_token_of_the_form",
    ),
    held(
        "3.5.3",
        "looking changes nothing",
        f"{MATRIX}::test_each_cell_is_as_the_table_says",
        f"{MATRIX}::test_looking_changes_nothing_but_when_the_session_was_last_used",
    ),
    held(
        "3.7.2",
        "no address leads off the server",
        f"{BAD}::test_no_next_leads_off_the_server",
        f"{BAD}::test_no_next_of_signing_in_leads_off_the_server",
    ),
    # --- V4, V5: requests and files
    held(
        "4.1.3",
        "no header says who somebody is or where the server is",
        f"{BAD}::test_no_header_changes_who_or_where_one_is",
        f"{BAD}::test_a_host_that_is_not_ours_is_refused",
    ),
    held(
        "15.3.4",
        "limits go by where somebody really is",
        f"{BAD}::test_no_header_counts_tries_as_somebody_elses",
        f"{ENVIRONMENT}::test_proxies_are_counted",
    ),
    held(
        "5.2.1",
        "files taken in are bounded",
        "web/cadence/test_busy_times.py::test_a_file_of_any_size_takes_two_megabytes_of_memory_and_nothing_on_the_disk",
    ),
    no_meaning(
        "5.3.2, 5.4.1, 5.4.2",
        "names of files",
        "no file is kept or given out under a name that somebody typed",
    ),
    # --- V6: signing in
    held(
        "6.1.1, 6.3.1",
        "tries are limited without locking anybody out for good",
        f"{LIMITS}::test_ten_refused_passwords_for_an_address_and_place_are_the_most",
        f"{LIMITS}::test_a_stranger_elsewhere_does_not_keep_the_owner_out",
        f"{SIGNING}::test_refused_tries_from_one_place_are_limited_whatever_the_address",
    ),
    held(
        "6.2.1, 6.2.4, 6.2.9, 6.2.12",
        "long passwords of any kind, no common ones",
        f"{PASSWORD}::test_a_weak_new_password_is_refused_with_the_reason",
        f"{PASSWORD}::test_long_passwords_of_any_kind_of_character_are_taken",
        "accounts/test_passwords.py::test_a_common_password_made_longer_is_refused",
    ),
    held(
        "6.3.2",
        "no account is there from the start",
        "serving/test_serve.py::test_an_empty_server_offers_a_one_time_link_until_somebody_is_registered",
        "accounts/test_backends.py::test_a_demo_account_does_not_sign_in_elsewhere",
    ),
    held(
        "6.3.3",
        "a second factor can be had and required",
        f"{REQUIRED}::test_an_administrator_without_one_is_led_to_set_it_up_from_every_page",
        f"{REQUIRED}::test_recovery_codes_alone_are_no_second_factor",
    ),
    held(
        "6.3.4, 6.4.3",
        "no way in goes around the second factor",
        f"{FACTORS}::test_a_mailed_code_does_not_get_around_the_second_factor",
        f"{FACTORS}::test_a_new_password_does_not_get_around_the_second_factor",
    ),
    held(
        "6.4.1",
        "links that were given away are random, work once and run out",
        f"{INVITED}::test_it_is_accepted_once",
        f"{INVITED}::test_it_runs_out_after_seven_days_to_the_second",
        "serving/test_setup_link.py::test_it_works_once",
    ),
    held(
        "6.5.1",
        "a code works once",
        f"{FACTORS}::test_a_code_of_the_app_lets_in_once",
        f"{FACTORS}::test_a_recovery_code_lets_in_once",
        f"{SIGNING}::test_a_mailed_code_lets_in_once",
    ),
    held(
        "6.5.5",
        "mailed codes last ten minutes at most",
        f"{SIGNING}::test_a_mailed_code_is_over_after_ten_minutes",
    ),
    held(
        "6.6.3",
        "codes cannot be guessed",
        f"{SIGNING}::test_a_code_that_is_guessed_wrong_three_times_is_over",
    ),
    # --- V7: sessions
    held(
        "7.2.3, 7.2.4",
        "a session has a new, random number after signing in",
        f"{SIGNING}::test_the_session_gets_a_new_id",
    ),
    held(
        "7.3.1, 7.3.2",
        "sessions end by themselves, idle or not",
        f"{SIGNING}::test_a_session_that_nobody_used_over_a_long_weekend_is_over",
        f"{SIGNING}::test_a_session_is_over_two_weeks_after_signing_in_however_much_it_is_used",
    ),
    held(
        "7.4.1, 7.4.2, 7.4.5",
        "signing out, switching off and an administrator end sessions at once",
        f"{SIGNING}::test_switching_an_account_off_ends_its_sessions",
        f"{ACCOUNTS}::test_closing_ends_every_session_at_once_and_opening_brings_none_back",
    ),
    held(
        "7.4.3",
        "a new password ends sessions elsewhere",
        f"{FACTORS}::test_a_changed_password_ends_sessions_elsewhere",
    ),
    held(
        "7.5.1",
        "who one is is asked again before what matters",
        f"{ACCOUNTS}::test_each_act_asks_who_it_is_first_and_then_goes_on",
        f"{FACTORS}::test_taking_the_app_off_asks_again_who_is_there",
    ),
    held(
        "7.5.2",
        "people see and end their own sessions",
        f"{SESSIONS}::test_ending_one_asks_who_one_is_and_then_ends_it_for_good",
        f"{SESSIONS}::test_nobody_ends_or_sees_a_session_of_somebody_else",
    ),
)
